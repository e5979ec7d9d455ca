package golden

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture/picture"
)

// A repo is a git repository with goldens.
type repo struct {
	t   *testing.T
	dir string
}

func newRepo(t *testing.T) repo {
	t.Helper()
	r := repo{t, t.TempDir()}
	r.git("init", "-q", "-b", "main")
	if err := os.WriteFile(filepath.Join(r.dir, ".gitattributes"), []byte(GitAttributes), 0o666); err != nil {
		t.Fatal(err)
	}
	r.git("add", ".")
	r.git("commit", "-q", "-m", "start")
	return r
}

func (r repo) run(args ...string) (string, error) {
	cmd := exec.Command("git", append([]string{"-c", "user.name=Ada", "-c", "user.email=ada@example.org", "-c", "commit.gpgsign=false"}, args...)...)
	cmd.Dir = r.dir
	cmd.Env = append(os.Environ(), "GIT_CONFIG_GLOBAL="+os.DevNull, "GIT_CONFIG_SYSTEM="+os.DevNull)
	out, err := cmd.CombinedOutput()
	return string(out), err
}

func (r repo) git(args ...string) {
	r.t.Helper()
	if out, err := r.run(args...); err != nil {
		r.t.Fatalf("git %v: %v\n%s", args, err, out)
	}
}

func (r repo) store() *Store { return open(r.t, filepath.Join(r.dir, "golden")) }

// approve approves on a branch and commits.
func (r repo) approve(branch string, as ...Approval) {
	r.t.Helper()
	r.git("checkout", "-q", "-B", branch)
	approve(r.t, r.store(), as...)
	r.git("add", "golden")
	r.git("commit", "-q", "-m", branch)
}

// Two branches that approved different looks merge without a conflict, and the store is clean.
func TestGitMerge(t *testing.T) {
	r := newRepo(t)
	r.approve("main", approval("home", "mild", panel(1)), approval("home", "frost", panel(2)))
	r.approve("ada", approval("home", "mild", panel(3)), approval("alarm", "new", panel(4)))
	r.git("checkout", "-q", "main")
	r.approve("grace", approval("home", "frost", panel(5)))
	r.git("merge", "-q", "--no-edit", "ada")
	s := r.store()
	clean(t, s)
	for look, n := range map[string]int{"mild": 3, "frost": 5} {
		if img, _, err := s.Get(target, "home", look); err != nil || picture.Hash(img) != picture.Hash(panel(n)) {
			t.Errorf("%s after the merge: %v", look, err)
		}
	}
	if out, err := r.run("status", "--porcelain"); err != nil || out != "" {
		t.Errorf("the store leaves files to git: %q, %v", out, err)
	}
}

// Two branches that approved the same look differently: git cannot merge the pictures, and the check
// names both sides and the command that settles it, which does.
func TestGitFork(t *testing.T) {
	r := newRepo(t)
	r.approve("main", approval("home", "mild", panel(1)))
	ada := approval("home", "mild", panel(2))
	ada.Who, ada.Why = "Ada", "rounder corners"
	r.approve("ada", ada)
	r.git("checkout", "-q", "main")
	grace := approval("home", "mild", panel(3))
	grace.Who, grace.Why = "Grace", "new accent"
	r.approve("grace", grace)
	if out, err := r.run("merge", "-q", "--no-edit", "ada"); err == nil || !strings.Contains(out, "mild.png") {
		t.Fatalf("merged two pictures into one: %v\n%s", err, out)
	}
	ledger, err := os.ReadFile(filepath.Join(r.dir, "golden", ledgerFile))
	if err != nil || strings.Contains(string(ledger), "<<<<") || strings.Count(string(ledger), "\n") != 3 {
		t.Fatalf("the ledger was not merged: %v\n%s", err, ledger)
	}
	r.git("checkout", "-q", "--ours", "golden/"+target+"/home/mild.png")
	r.git("add", "golden")
	r.git("commit", "-q", "-m", "merge")
	s := r.store()
	rep, err := s.Check()
	if err != nil || len(rep.Problems) != 1 || rep.Problems[0].Kind != Forked {
		t.Fatalf("check: %+v, %v", rep, err)
	}
	p := rep.Problems[0]
	for _, want := range []string{"Ada", "rounder corners", "Grace", "new accent"} {
		if !strings.Contains(p.Says, want) {
			t.Errorf("it does not say %q: %s", want, p.Says)
		}
	}
	if !strings.Contains(p.Do, `fascia approve --look "mild"`) {
		t.Errorf("it does not say what settles it: %s", p.Do)
	}
	settle := approval("home", "mild", panel(2))
	settle.Saw = NoGolden // as a run shows a forked look
	approve(t, s, settle)
	clean(t, s)
}

// A branch that withdraws a look and one that approves it anew are a fork, too.
func TestGitForkOverWithdrawal(t *testing.T) {
	r := newRepo(t)
	r.approve("main", approval("home", "mild", panel(1)))
	r.approve("ada", approval("home", "mild", panel(2)))
	r.git("checkout", "-q", "main")
	r.git("checkout", "-q", "-b", "grace")
	if _, err := r.store().Withdraw([]Entry{inForce(t, r.store(), "mild")}, "Grace", "the screen is gone", later); err != nil {
		t.Fatal(err)
	}
	r.git("add", "golden")
	r.git("commit", "-q", "-m", "withdrawn")
	r.run("merge", "-q", "--no-edit", "ada") // a conflict over the picture
	r.git("checkout", "-q", "ada", "--", "golden/"+target+"/home/mild.png")
	r.git("commit", "-q", "-m", "merge")
	rep, err := r.store().Check()
	if err != nil || len(rep.Problems) != 1 || rep.Problems[0].Kind != Forked || !strings.Contains(rep.Problems[0].Says, "withdrawn by Grace") {
		t.Fatalf("check: %+v, %v", rep, err)
	}
	approve(t, r.store(), approval("home", "mild", panel(2)))
	clean(t, r.store())
}

// This repository keeps goldens of its own.
func TestOwnGitAttributes(t *testing.T) {
	own, err := os.ReadFile("../.gitattributes")
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(GitAttributes) {
		if !strings.Contains(string(own), line) {
			t.Errorf("../.gitattributes lacks %q", line)
		}
	}
}
