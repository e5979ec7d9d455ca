package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture/link"
)

func (a *app) agentCommand() *cobra.Command {
	var dir string
	var replace bool
	cmd := &cobra.Command{
		Use:   "agent",
		Short: "Write the device end's C files, as they are in this command",
		Long: `Writes fascia_agent.h and fascia_agent.c, the guide to bring them into a firmware, the
protocol's specification and an example.`,
		Example: "  fascia agent -o firmware/fascia",
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			if dir == "" {
				return errors.New("where to? Name a folder with -o")
			}
			written, err := link.WriteAgent(dir, replace)
			for _, name := range written {
				fmt.Fprintln(a.stdout, name)
			}
			return err
		},
	}
	cmd.Flags().StringVarP(&dir, "out", "o", "", "the folder to write to")
	cmd.Flags().BoolVar(&replace, "replace", false, "also over files that were changed")
	return cmd
}
