package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"
)

// Exit statuses, everywhere the same.
const (
	exitOK        = 0
	exitDiffers   = 1 // something differs, is missed or is unapproved
	exitNoVerdict = 2 // bad input, no device, a look without capture
)

// An app is what the commands share.
type app struct {
	stdout, stderr io.Writer
	status         int
}

// hinted is an error with a remedy.
type hinted struct {
	error
	hint string
}

func (h hinted) Unwrap() error { return h.error }

// run is the command: it never calls os.Exit and prints nowhere else.
func run(args []string, stdout, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	a := &app{stdout: stdout, stderr: stderr}
	root := a.root()
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return a.status
	}
	fmt.Fprintf(stderr, "fascia: error: %v\n", err)
	var h hinted
	if errors.As(err, &h) {
		fmt.Fprintf(stderr, "fascia: hint: %s\n", h.hint)
	}
	return exitNoVerdict
}

// root is the command with all that it can do.
func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "fascia",
		Short: "Proves that a device's screens still look the way their maker approved",
		Long: `fascia drives a device through its screens by scripted input, captures what the panel
shows, holds each capture against an approved golden, and says what changed and why it
probably changed.

Exit status: 0 all is as approved; 1 something differs, is missed or is unapproved;
2 there is no verdict (bad input, no device, a look without capture).`,
		Example: `  fascia demo
  fascia run
  fascia help run`,
		Version:           version(),
		SilenceUsage:      true,
		SilenceErrors:     true,
		DisableAutoGenTag: true,
	}
	root.AddCommand(a.demoCommand(), a.runCommand(), a.specsCommand(), a.approveCommand(), a.captureCommand(), a.compareCommand(),
		a.reportCommand(), a.filmCommand(), a.benchCommand(), a.reviewCommand(), a.goldenCommand(), a.joinCommand(), a.agentCommand(), a.schemaCommand())
	root.AddCommand(a.driftCommand(), a.initCommand(), a.recordCommand(), a.bisectCommand(), a.bisectStepCommand(), a.betweenCommand(), a.handbookCommand(), a.wanderCommand(), a.lintCommand())
	root.AddCommand(a.manCommand(), a.rectifyCommand())
	a.interruptible(root)
	helpful(root)
	root.SetVersionTemplate(versionText())
	// What the library brings has no examples of its own.
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	for _, c := range root.Commands() {
		switch c.Name() {
		case "help":
			c.Example = "  fascia help run"
		case "completion":
			c.Example = "  fascia completion bash > fascia.bash"
			for _, shell := range c.Commands() {
				shell.Example = "  fascia completion " + shell.Name()
			}
		}
	}
	return root
}

// helpful has a command that was called wrongly say how it is called.
func helpful(c *cobra.Command) {
	if check := c.Args; check != nil {
		c.Args = func(c *cobra.Command, args []string) error { return called(c, check(c, args)) }
	}
	c.SetFlagErrorFunc(called)
	for _, sub := range c.Commands() {
		helpful(sub)
	}
}

func called(c *cobra.Command, err error) error {
	if err == nil {
		return nil
	}
	return hinted{fmt.Errorf("%s: %w", c.CommandPath(), err), fmt.Sprintf("it is called %q; %s --help has examples", c.UseLine(), c.CommandPath())}
}
