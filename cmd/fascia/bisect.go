package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/suites"
)

// A bisection is what its steps share, kept in a file of its scratch folder.
type bisection struct {
	Bench string // the bench's file, relative to the repository
	Walk  string
	Look  string
	Build string // shell command
	From  string // folder of the user's bench, whose file and walks every build is asked by
	Tree  string // the scratch checkout
	Dir   string // the scratch folder: captures by commit
	Good  string // the commit whose look is the reference
	// Ignore are the areas of the look that do not count.
	Ignore []image.Rectangle
}

func (a *app) bisectCommand() *cobra.Command {
	var file, build, look string
	cmd := &cobra.Command{
		Use:   "bisect GOOD BAD --build CMD --look NAME",
		Short: "The commit that changed a look",
		Long: `Checks commits out into a scratch folder, has CMD build each (and flash it, on a board), walks to the
look and holds it against the look at GOOD, by way of git bisect run. Your own checkout is not touched.
The bench's file and the walks are those you have now, for every build; goldens play no part.

CMD runs in the folder of the bench's file within the scratch checkout: there it leaves the .wasm that
the file names, or flashes the board. A build that fails, or with which the look cannot be had, is skipped.

Exit status: 0 a commit was named; 2 none could be, because the look is the same at both ends, because one
of them gives no capture, or because too many builds had to be skipped.`,
		Example: "  fascia bisect v2.3.0 HEAD --build 'make twin' --look 'bed lamp/full'\n" +
			"  fascia bisect v2.3.0 HEAD --build 'make && make flash' --look home --bench green-1.yaml",
		Args: cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			if build == "" || look == "" {
				return errors.New("bisect needs --build, a command that builds a commit, and --look, the look that changed")
			}
			return a.bisect(cmd.Context(), file, build, look, args[0], args[1])
		},
	}
	cmd.Flags().StringVar(&file, "bench", benchFile, "the bench to walk on, in the repository")
	cmd.Flags().StringVar(&build, "build", "", "shell command that builds the checked out commit")
	cmd.Flags().StringVar(&look, "look", "", "the look, or walk/look where several walks have one of that name")
	return cmd
}

func (a *app) bisect(ctx context.Context, file, build, look, good, bad string) (err error) {
	s, root, err := planBisection(ctx, file, build, look)
	if err != nil {
		return err
	}
	ends := [2]string{good, bad}
	for i, name := range ends {
		if ends[i], err = git(ctx, root, "rev-parse", "--verify", "--quiet", "--end-of-options", name+"^{commit}"); err != nil {
			return fmt.Errorf("there is no commit %q in %s", name, root)
		}
	}
	if _, err := git(ctx, root, "merge-base", "--is-ancestor", ends[0], ends[1]); err != nil {
		return hinted{fmt.Errorf("%s is not an ancestor of %s", good, bad), "the older commit, at which the look was right, comes first"}
	}
	if s.Dir, err = os.MkdirTemp("", "fascia-bisect-"); err != nil {
		return err
	}
	defer os.RemoveAll(s.Dir)
	s.Good, s.Tree = ends[0], filepath.Join(s.Dir, "tree")
	if _, err := git(ctx, root, "worktree", "add", "--quiet", "--detach", s.Tree, ends[1]); err != nil {
		return err
	}
	defer func() { // also after an interrupt, and then without its context
		_, removeErr := git(context.WithoutCancel(ctx), root, "worktree", "remove", "--force", s.Tree)
		err = errors.Join(err, removeErr)
	}()
	for i, name := range []string{good, bad} { // the later end last: bisecting starts from there
		if _, err := git(ctx, s.Tree, "checkout", "--quiet", "--detach", ends[i]); err != nil {
			return err
		}
		fmt.Fprintf(a.stderr, "%s %s: ", []string{"good", "bad"}[i], name)
		if err := s.capture(ctx, ends[i]); err != nil {
			fmt.Fprintln(a.stderr, "no capture")
			return fmt.Errorf("at %s: %w", name, err)
		}
		fmt.Fprintln(a.stderr, "captured")
	}
	same, err := s.sameAs(ends[1])
	if err != nil {
		return err
	}
	if same {
		return fmt.Errorf("the look %s / %s is the same at %s and at %s", s.Walk, s.Look, good, bad)
	}
	return a.search(ctx, s, ends)
}

// search lets git choose the commits, and says which one it was.
func (a *app) search(ctx context.Context, s *bisection, ends [2]string) error {
	state := filepath.Join(s.Dir, "state.json")
	data, err := json.Marshal(s)
	if err == nil {
		err = os.WriteFile(state, data, 0o666)
	}
	if err != nil {
		return err
	}
	self, err := os.Executable()
	if err != nil {
		return err
	}
	if _, err := git(ctx, s.Tree, "bisect", "start", ends[1], ends[0]); err != nil {
		return err
	}
	run := gitCommand(ctx, s.Tree, "bisect", "run", filepath.ToSlash(self), "bisect-step", filepath.ToSlash(state))
	run.Stderr = a.stderr // of the steps; git's own account goes nowhere
	runErr := run.Run()
	if ctx.Err() != nil {
		return fmt.Errorf("bisect: %w", ctx.Err())
	}
	bad, err := git(ctx, s.Tree, "rev-parse", "refs/bisect/bad")
	if err != nil {
		return fmt.Errorf("bisect: %w", errors.Join(runErr, err))
	}
	if runErr != nil {
		left, err := git(ctx, s.Tree, "log", "--format=  %h %s", bad, "--not", "--glob=refs/bisect/good-*")
		if err != nil {
			return fmt.Errorf("bisect: %w", errors.Join(runErr, err))
		}
		return hinted{fmt.Errorf("too many builds had to be skipped; it is one of\n%s", left), "a --build that mends these builds would tell which"}
	}
	return a.tellCulprit(ctx, s, bad)
}

func (a *app) tellCulprit(ctx context.Context, s *bisection, commit string) error {
	about, err := git(ctx, s.Tree, "show", "--no-patch", "--format=%H%n  %s%n  %an, %ad", "--date=iso", commit)
	if err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "%s / %s changed in commit %s\n", s.Walk, s.Look, about)
	res, err := s.compare(commit)
	if err != nil {
		return err
	}
	tell(a.stdout, res)
	files, err := git(ctx, s.Tree, "show", "--stat=100", "--format=", commit)
	if err != nil {
		return err
	}
	fmt.Fprintln(a.stdout, files)
	return nil
}

// planBisection finds the repository, and the look among the bench's walks.
func planBisection(ctx context.Context, file, build, look string) (*bisection, string, error) {
	b, err := bench.Read(file)
	if err != nil {
		return nil, "", err
	}
	dir, err := filepath.Abs(b.Dir)
	if err != nil {
		return nil, "", err
	}
	root, err := git(ctx, dir, "rev-parse", "--show-toplevel")
	if err != nil {
		return nil, "", hinted{fmt.Errorf("%s is in no git repository: %w", file, err), "the bench's file and walks belong into the firmware's repository; fascia init puts them there"}
	}
	prefix, err := git(ctx, dir, "rev-parse", "--show-prefix")
	if err != nil {
		return nil, "", err
	}
	plan, err := suites.Prepare(file, nil)
	if err != nil {
		return nil, "", err
	}
	s := &bisection{Bench: path.Join(prefix, filepath.Base(file)), Build: build, From: dir}
	var found []string
	for _, w := range plan.Walks {
		for _, l := range w.Looks() {
			if full := w.Name + "/" + l.Name; look == l.Name || look == full || look == w.Slug+"/"+l.File {
				found = append(found, full)
				s.Walk, s.Look = w.Name, l.Name
			}
		}
	}
	switch len(found) {
	case 0:
		return nil, "", fmt.Errorf("no walk of %s has a look %q", file, look)
	case 1:
		return s, filepath.FromSlash(root), nil
	}
	return nil, "", fmt.Errorf("several walks have a look %q: write one of %s", look, strings.Join(found, ", "))
}

// git runs git in a folder and returns what it prints.
func git(ctx context.Context, dir string, args ...string) (string, error) {
	cmd := gitCommand(ctx, dir, args...)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if err != nil {
		if errors.Is(err, exec.ErrNotFound) {
			return "", errors.New("git is not installed, or not on the path")
		}
		return "", fmt.Errorf("git %s: %w: %s", args[0], err, strings.TrimSpace(errs.String()))
	}
	return strings.TrimRight(string(out), "\r\n"), nil
}

func gitCommand(ctx context.Context, dir string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, "git", args...)
	cmd.Dir = dir
	cmd.WaitDelay = 500 * time.Millisecond // what git has started may keep the pipe open
	cmd.Env = append(os.Environ(), "LC_ALL=C", "GIT_PAGER=cat")
	return cmd
}

// picture is where the look's capture of a commit is kept.
func (s *bisection) picture(commit string) string { return filepath.Join(s.Dir, commit+".png") }

func (s *bisection) sameAs(commit string) (bool, error) {
	res, err := s.compare(commit)
	return res.Same, err
}
