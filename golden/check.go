package golden

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
)

// Kind names what is wrong with a file of the store.
type Kind string

const (
	Missing  Kind = "missing"  // approved, and the picture is not there
	Altered  Kind = "altered"  // the picture is not the one approved last
	Forked   Kind = "forked"   // two approvals follow the same line
	Orphaned Kind = "orphaned" // a picture that no line of the ledger knows
	Leftover Kind = "leftover" // of an interrupted approval; Repair settles it
	Gap      Kind = "gap"      // a line that others follow is not in the ledger
	Linked   Kind = "linked"   // a symbolic link
	Misnamed Kind = "misnamed" // a picture where the store never looks
	Inherits Kind = "inherits" // an inherits file that cannot be followed
)

// Problem is one thing that Check found.
type Problem struct {
	Kind Kind `json:"kind"`
	// The look as file names, as far as the problem belongs to one.
	Target string `json:"target,omitempty"`
	Walk   string `json:"walk,omitempty"`
	Look   string `json:"look,omitempty"`
	Photo  string `json:"photo,omitempty"`
	File   string `json:"file"` // with the store's folder
	Says   string `json:"says"` // what is wrong, in a sentence
	Do     string `json:"do"`   // the command that settles it
}

// Report is what Check found.
type Report struct {
	Goldens  int       `json:"goldens"` // looks whose golden is in place and as approved
	Problems []Problem `json:"problems"`
}

// Clean reports whether nothing was found.
func (r Report) Clean() bool { return len(r.Problems) == 0 }

// Check holds every picture against the ledger and the ledger against itself. It changes nothing. An
// error means that there is no report, because the ledger or the folder cannot be read.
//
// Goldens that no walk asks for any more are not its business, since it knows no walks: see Goldens.
func (s *Store) Check() (Report, error) {
	r, err := s.check()
	if err != nil || r.Clean() {
		return r, err
	}
	// An approval under way looks like the leftovers of one: look again when nobody approves. In a
	// folder that cannot be locked, for it may not be written to, nobody does.
	s.approving.Lock()
	defer s.approving.Unlock()
	unlock, err := s.fs.Lock()
	if err != nil {
		return r, nil
	}
	defer unlock()
	return s.check()
}

func (s *shared) check() (Report, error) {
	led, err := s.load()
	if err != nil {
		return Report{}, err
	}
	tree, err := s.scan()
	if err != nil {
		return Report{}, fmt.Errorf("check goldens: %w", err)
	}
	r := Report{Problems: tree.problems}
	for _, k := range led.keys() {
		if p, bad := s.checkLook(led, k); bad {
			r.Problems = append(r.Problems, p)
		} else if _, ok, _ := led.chain(k).golden(); ok {
			r.Goldens++
		}
		r.Problems = append(r.Problems, s.checkChain(led, k)...)
	}
	for _, f := range tree.found {
		if f.line != "" {
			r.Problems = append(r.Problems, s.leftover(led, f))
		} else if s.isRemnant(led, f) {
			r.Problems = append(r.Problems, s.problem(Leftover, f.key, f.name,
				"it was withdrawn, and its picture is not removed yet", "fascia golden check --repair"))
		} else if goldens, _ := led.chain(f.key).current(); len(goldens) == 0 || allWithdrawn(goldens) {
			r.Problems = append(r.Problems, s.problem(Orphaned, f.key, f.name,
				"the ledger has no approval of this picture, so it is never used",
				fmt.Sprintf("rm %q, or run the walk and approve its look", s.at(f.name))))
		}
	}
	if _, err := s.fs.Lstat(ledgerNext); err == nil {
		r.Problems = append(r.Problems, s.problem(Leftover, key{}, ledgerNext,
			"an approval was interrupted before it took effect", "fascia golden check --repair"))
	}
	slices.SortStableFunc(r.Problems, func(a, b Problem) int { return strings.Compare(a.File, b.File) })
	return r, nil
}

func allWithdrawn(es []Entry) bool {
	return !slices.ContainsFunc(es, func(e Entry) bool { return !e.Withdrawn })
}

// isRemnant reports whether a golden's file holds just the picture that was withdrawn. Pictures are read
// only where there is a withdrawal.
func (s *shared) isRemnant(led *ledger, f file) bool {
	w, ok := led.chain(f.key).withdrawn()
	if !ok || f.line != "" {
		return false
	}
	_, hash, err := s.picture(f.name)
	return err == nil && hash == w.SHA256
}

func (s *shared) problem(kind Kind, k key, file, says, do string) Problem {
	return Problem{kind, k.target, k.walk, k.look, k.photo, s.at(file), says, do}
}

// approveCommand is how to approve what the device shows for the look now.
func approveCommand(k key) string {
	return fmt.Sprintf("fascia run, then fascia approve --look %q --reason TEXT", k.look)
}

// checkLook holds one look's picture against its line.
func (s *shared) checkLook(led *ledger, k key) (Problem, bool) {
	_, _, err := s.own(led, k)
	says := ""
	if err != nil {
		says = strings.TrimPrefix(err.Error(), fmt.Sprintf("golden %q: ", s.at(k.file())))
	}
	restore := fmt.Sprintf("git restore %q; if git does not have it, %s", s.at(k.file()), approveCommand(k))
	switch {
	case err == nil, errors.Is(err, errNone), errors.Is(err, ErrUnrecorded), errors.Is(err, ErrForked), errors.Is(err, ErrLink):
		return Problem{}, false // the others are told by scan, checkChain and the search for orphans
	case errors.Is(err, ErrMissing):
		return s.problem(Missing, k, k.file(), says, restore), true
	default:
		return s.problem(Altered, k, k.file(), says, restore), true
	}
}

// checkChain looks for forks and lost lines.
func (s *shared) checkChain(led *ledger, k key) (out []Problem) {
	c := led.chain(k)
	gaps := c.gaps()
	// A lost line leaves the chain in two parts, which is no fork.
	if heads := c.heads(); len(heads) > 1 && len(gaps) == 0 {
		var sides []string
		for _, h := range heads {
			side := fmt.Sprintf("%s on %s (%.12s…: %s)", h.Who, day(h), h.SHA256, h.Why)
			if h.Withdrawn {
				side = fmt.Sprintf("withdrawn by %s on %s (%s)", h.Who, day(h), h.Why)
			}
			sides = append(sides, side)
		}
		out = append(out, s.problem(Forked, k, ledgerFile,
			fmt.Sprintf("look %q of walk %q was approved on two branches: %s", heads[0].Look, heads[0].Walk, strings.Join(sides, ", ")),
			approveCommand(k)))
	}
	for _, h := range gaps {
		out = append(out, s.problem(Gap, k, ledgerFile,
			fmt.Sprintf("look %q of walk %q: the line %.12s…, which another follows, is not in the ledger", k.look, k.walk, h),
			fmt.Sprintf("git log -p -- %q, and put the deleted line back", s.at(ledgerFile))))
	}
	return out
}

func (s *shared) leftover(led *ledger, f file) Problem {
	says := "an approval was interrupted before it took effect"
	if s.inPlace(led, f) {
		says = "an approval took effect, and its picture is not in its place yet"
	}
	return s.problem(Leftover, f.key, f.name, says, "fascia golden check --repair")
}

// file is a picture found in the folder: a golden, or the pending picture of a line.
type file struct {
	name string
	key  key
	line string
}

// tree is what scan found.
type tree struct {
	found    []file
	problems []Problem
}

// scan goes through the folder. It follows no links.
func (s *shared) scan() (tree, error) {
	var t tree
	targets, err := s.entries(&t, ".")
	if err != nil {
		return t, err
	}
	for _, target := range targets {
		if !target.IsDir() {
			continue // the ledger, the README somebody wrote
		}
		if _, err := s.lineage(target.Name()); errors.Is(err, ErrInherits) {
			name := path.Join(target.Name(), inheritsFile)
			t.problems = append(t.problems, s.problem(Inherits, key{target: target.Name()}, name, err.Error(),
				fmt.Sprintf("write the name of one target into %q, or rm it", s.at(name))))
		}
		walks, err := s.entries(&t, target.Name())
		if err != nil {
			return t, err
		}
		for _, walk := range walks {
			if !walk.IsDir() {
				continue
			}
			dir := path.Join(target.Name(), walk.Name())
			files, err := s.entries(&t, dir)
			if err != nil {
				return t, err
			}
			for _, f := range files {
				name := path.Join(dir, f.Name())
				if k, line, ok := keyOf(target.Name(), walk.Name(), f.Name()); ok {
					t.found = append(t.found, file{name, k, line})
				} else if strings.HasSuffix(f.Name(), ".png") {
					t.misnamed(s, name)
				}
			}
		}
	}
	return t, nil
}

// entries lists a folder of the store. Links are reported and left out, so are pictures too far up.
func (s *shared) entries(t *tree, dir string) ([]fs.DirEntry, error) {
	all, err := s.fs.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) && dir == "." {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var out []fs.DirEntry
	for _, e := range all {
		name := path.Join(dir, e.Name())
		switch {
		case e.Type()&fs.ModeSymlink != 0:
			t.problems = append(t.problems, s.problem(Linked, key{}, name,
				"this is a symbolic link, which the store does not follow; a target shares another's goldens by its inherits file",
				fmt.Sprintf("rm %q", s.at(name))))
		case dir == "." && strings.HasPrefix(e.Name(), "."): // .store, .git and the like
		case strings.Count(name, "/") < 2 && strings.HasSuffix(name, ".png"):
			t.misnamed(s, name)
		default:
			out = append(out, e)
		}
	}
	return out, nil
}

func (t *tree) misnamed(s *shared, name string) {
	t.problems = append(t.problems, s.problem(Misnamed, key{}, name,
		"goldens are <target>/<walk>/<look>.png in lower case, ASCII and dashes, so this picture is never used",
		fmt.Sprintf("rm %q", s.at(name))))
}
