package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/suites/between"
)

func (a *app) betweenCommand() *cobra.Command {
	var asJSON bool
	var notes, since, build, file string
	cmd := &cobra.Command{
		Use:   "between BEFORE [AFTER]",
		Short: "Hold two runs against each other and fold what differs into a few changes",
		Long: `Compares the looks of two runs, of a golden folder and a run, or of two folders of pictures, and
folds what differs into groups that a person would call one change, the likeliest defects first. A
run alone is held against the goldens that it was walked with.

Looks are paired by walk and name, pictures in folders by file name, subfolders included. Boards that
differ in size, depth or rotation are compared after a mapping that is said, and so is what it leaves out.

Of runs by camera the framebuffers are compared, and photo by photo the looks whose framebuffers are the
same, where both runs kept the photos (camera: {keep: all} in bench.yaml); what is left out is said.

With --notes a folder gets a page in Markdown, with a cut from before and after for each change; with
--since and --build also the commit that brought each, by fascia bisect up to HEAD, on a look that shows
few other changes.`,
		Example: "  fascia between runs/2031-05-04-093000 runs/2031-06-01-101500\n  fascia between golden runs/2031-06-01-101500\n  fascia between --json pictures/before pictures/after",
		Args:    cobra.RangeArgs(1, 2),
		RunE: func(cmd *cobra.Command, args []string) error {
			after := ""
			if len(args) == 2 {
				after = args[1]
			}
			collectLess() // as BenchmarkFold does
			p, err := between.Open(args[0], after)
			if err != nil {
				return err
			}
			r, err := p.Compare()
			if err != nil {
				return err
			}
			if since != "" && (build == "" || notes == "") {
				return errors.New("--since needs --build, a command that builds a commit, and --notes, where the commits are told")
			}
			if notes != "" {
				var commits map[int]string
				if since != "" {
					if commits, err = a.commitsOf(cmd.Context(), r, file, build, since); err != nil {
						return err
					}
				}
				if err := r.WriteNotes(notes, commits); err != nil {
					return err
				}
				fmt.Fprintf(a.stderr, "notes: %s\n", filepath.Join(notes, between.NotesFile))
			}
			a.status = r.Exit()
			if asJSON {
				return a.printJSON(r)
			}
			r.Tell(a.stdout)
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the groups as JSON on stdout")
	cmd.Flags().StringVar(&notes, "notes", "", "folder for a page in Markdown of what changed, with pictures")
	cmd.Flags().StringVar(&since, "since", "", "commit of the build before: the notes say which commit brought each change")
	cmd.Flags().StringVar(&build, "build", "", "with --since: shell command that builds the checked out commit")
	cmd.Flags().StringVar(&file, "bench", benchFile, "with --since: the bench to walk on, in the repository")
	return cmd
}

// commitsOf asks for each change which commit brought it. A change for which none can be named is left without, and
// why is told on stderr.
func (a *app) commitsOf(ctx context.Context, r *between.Report, file, build, since string) (map[int]string, error) {
	out := map[int]string{}
	for _, g := range r.All() {
		look := r.Telling(g)
		var said bytes.Buffer
		b := &app{stdout: &said, stderr: a.stderr}
		fmt.Fprintf(a.stderr, "change %d, by %s:\n", g.Rank, look)
		if err := b.bisect(ctx, file, build, look.Walk+"/"+look.Look, since, "HEAD"); err != nil {
			if ctx.Err() != nil {
				return nil, err
			}
			fmt.Fprintf(a.stderr, "no commit for change %d: %v\n", g.Rank, err)
			continue
		}
		lines := strings.SplitN(said.String(), "\n", 4)
		if len(lines) < 3 {
			return nil, fmt.Errorf("bisect said %q", said.String())
		}
		_, commit, _ := strings.Cut(lines[0], " changed in commit ")
		out[g.Rank] = commit[:min(len(commit), 12)] + " (" + strings.TrimSpace(lines[1]) + ")"
	}
	return out, nil
}
