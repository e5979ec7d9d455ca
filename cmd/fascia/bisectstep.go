package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/record"
)

// exitSkip tells git bisect run that a commit gives no verdict (git-bisect's manual, "bisect run").
const exitSkip = 125

// bisectStepCommand asks one commit; git bisect run calls it.
func (a *app) bisectStepCommand() *cobra.Command {
	return &cobra.Command{
		Use:    "bisect-step STATE",
		Hidden: true,
		Args:   cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			a.status = exitSkip
			var s bisection
			data, err := os.ReadFile(args[0])
			if err == nil {
				err = json.Unmarshal(data, &s)
			}
			if err != nil {
				return fmt.Errorf("read the state of the bisection: %w", err)
			}
			commit, err := git(cmd.Context(), s.Tree, "rev-parse", "HEAD")
			if err != nil {
				return err
			}
			about, err := git(cmd.Context(), s.Tree, "show", "--no-patch", "--format=%h %s", commit)
			if err != nil {
				return err
			}
			if err := s.capture(cmd.Context(), commit); err != nil {
				fmt.Fprintf(a.stderr, "%s: skipped: %v\n", about, err)
				return nil
			}
			same, err := s.sameAs(commit)
			if err != nil {
				return err
			}
			a.status = exitOK
			word := "as at the good end"
			if !same {
				a.status, word = exitDiffers, "differs"
			}
			fmt.Fprintf(a.stderr, "%s: %s\n", about, word)
			return nil
		},
	}
}

// capture builds the checked out commit, walks to the look and keeps its picture. An error means that the
// commit gives no verdict.
func (s *bisection) capture(ctx context.Context, commit string) (err error) {
	benchFile := filepath.Join(s.Tree, filepath.FromSlash(s.Bench))
	dir := filepath.Dir(benchFile)
	defer func() { // what was built into tracked files would keep git from checking out the next commit
		_, resetErr := git(context.WithoutCancel(ctx), s.Tree, "reset", "--quiet", "--hard")
		err = errors.Join(err, resetErr)
	}()
	if err := os.MkdirAll(dir, 0o777); err != nil { // an old commit may be without the folder
		return err
	}
	if out, err := bench.Shell(ctx, dir, s.Build).CombinedOutput(); err != nil {
		return fmt.Errorf("the build ended with %w%s", err, lastOf(out))
	}
	if err := s.ask(dir); err != nil {
		return err
	}
	self, err := os.Executable()
	if err != nil {
		return err
	}
	run := exec.CommandContext(ctx, self, "run", "--bench", benchFile, "--json", "--look", s.Walk+"/"+s.Look, s.Walk)
	politely(run)
	var complaint strings.Builder
	run.Stderr = &complaint
	out, _ := run.Output() // the status is that of goldens, which play no part
	var rec record.Run
	if err := json.Unmarshal(out, &rec); err != nil {
		return fmt.Errorf("the walk came to nothing%s", lastOf([]byte(complaint.String())))
	}
	for _, l := range rec.Looks {
		if l.Walk != s.Walk || l.Look != s.Look || l.Capture == "" {
			continue
		}
		if l.Moving {
			return errors.New("the screen was still moving when it was captured")
		}
		return s.keep(commit, filepath.Join(dir, suites.RunsDir, rec.Run, filepath.FromSlash(l.Capture)), l.Ignored)
	}
	return fmt.Errorf("the look has no capture%s", lastOf([]byte(why(&rec, s))))
}

// why says why a look was not captured.
func why(rec *record.Run, s *bisection) string {
	for _, l := range rec.Looks {
		if l.Walk == s.Walk && l.Look == s.Look && l.Why != "" {
			return l.Why
		}
	}
	for _, w := range rec.Walks {
		if w.Why != "" {
			return w.Why
		}
	}
	return rec.Why
}

// ask puts the user's own bench file and walks beside the build, so that every commit is asked the same.
// A step ends with git reset, which takes back what was tracked.
func (s *bisection) ask(dir string) error {
	walks := filepath.Join(dir, suites.WalksDir)
	if err := os.RemoveAll(walks); err != nil {
		return err
	}
	if err := os.CopyFS(walks, os.DirFS(filepath.Join(s.From, suites.WalksDir))); err != nil {
		return fmt.Errorf("put the walks beside the build: %w", err)
	}
	name := filepath.Base(filepath.FromSlash(s.Bench))
	data, err := fs.ReadFile(os.DirFS(s.From), name)
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, name), data, 0o666)
}

// keep keeps the picture of a commit, and of the good end what does not count in it.
func (s *bisection) keep(commit, capture string, ignored []record.Ignored) error {
	data, err := os.ReadFile(capture)
	if err != nil {
		return err
	}
	if commit == s.Good {
		for _, ig := range ignored {
			s.Ignore = append(s.Ignore, image.Rect(ig.X, ig.Y, ig.X+ig.W, ig.Y+ig.H))
		}
	}
	return os.WriteFile(s.picture(commit), data, 0o666)
}

// compare holds a commit's look against that of the good end.
func (s *bisection) compare(commit string) (compare.Result, error) {
	good, err := picture.Read(s.picture(s.Good))
	if err != nil {
		return compare.Result{}, err
	}
	seen, err := picture.Read(s.picture(commit))
	if err != nil {
		return compare.Result{}, err
	}
	return compare.Compare(good, seen, compare.Options{Ignore: s.Ignore}), nil
}

// lastOf is the last line of what a command printed, to be put behind a sentence.
func lastOf(out []byte) string {
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if last := strings.TrimSpace(lines[len(lines)-1]); last != "" {
		return ": " + last
	}
	return ""
}
