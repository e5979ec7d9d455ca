package golden

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// The test program is also the process that approves and is killed: see child.
const childFolder, childName = "FASCIA_TEST_GOLDEN", "FASCIA_TEST_NAME"

func TestMain(m *testing.M) {
	if dir := os.Getenv(childFolder); dir != "" {
		child(dir, os.Getenv(childName), len(os.Args) > 1 && os.Args[1] == "forever")
		return
	}
	os.Exit(m.Run())
}

// child approves look after look, three in each call, and prints the hash of each line once Approve
// has returned.
func child(dir, name string, forever bool) {
	s, err := Open(dir)
	for n := 0; err == nil && (forever || n < 15); n++ {
		var as []Approval
		for i := range 3 {
			a := approval(fmt.Sprintf("walk %d", i), "shared", panel(rand.IntN(60000)))
			a.Who = name
			as = append(as, a)
		}
		var done []Entry
		if done, err = s.Approve(as); err == nil {
			var line strings.Builder
			for _, e := range done {
				line.WriteString(e.Hash + " ")
			}
			fmt.Println(line.String())
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func childCommand(t *testing.T, dir, name string, args ...string) *exec.Cmd {
	t.Helper()
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(exe, args...)
	cmd.Env = append(os.Environ(), childFolder+"="+dir, childName+"="+name)
	cmd.Stderr = os.Stderr
	return cmd
}

// recorded returns the hashes of all lines of the walks that children approve.
func recorded(t *testing.T, s *Store) map[string]bool {
	t.Helper()
	out := map[string]bool{}
	for i := range 3 {
		log, err := s.Log(target, fmt.Sprintf("walk %d", i), "shared")
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range log {
			out[e.Hash] = true
		}
	}
	return out
}

// Two processes and two goroutines approve the same looks at once, while another goroutine reads: every
// approval is in one unforked chain, and the reader always has a golden.
func TestApproveAtOnce(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	for i := range 3 {
		approve(t, s, approval(fmt.Sprintf("walk %d", i), "shared", panel(i)))
	}
	var wg sync.WaitGroup
	for n := range 2 {
		wg.Go(func() {
			if out, err := childCommand(t, dir, fmt.Sprint("process ", n)).Output(); err != nil || strings.Count(string(out), "\n") != 15 {
				t.Errorf("process %d: %q, %v", n, out, err)
			}
		})
		wg.Go(func() {
			for i := range 15 {
				if _, err := s.Approve([]Approval{approval("walk 0", "shared", panel(1000*n+i))}); err != nil {
					t.Errorf("goroutine %d: %v", n, err)
				}
			}
		})
	}
	stop, reads := make(chan struct{}), 0
	var watch sync.WaitGroup
	watch.Go(func() {
		reader := open(t, dir)
		for ; ; reads++ {
			select {
			case <-stop:
				return
			default:
			}
			if _, _, err := reader.Get(target, "walk 0", "shared"); err != nil {
				t.Errorf("get while others approve: %v", err)
			}
			if r, err := reader.Check(); err != nil || !r.Clean() {
				t.Errorf("check while others approve: %+v, %v", r.Problems, err)
			}
		}
	})
	wg.Wait()
	close(stop)
	watch.Wait()
	if got, want := len(recorded(t, s)), 3+2*3*15+2*15; got != want {
		t.Errorf("%d approvals in the ledger, want %d", got, want)
	}
	t.Logf("%d reads meanwhile", reads)
	clean(t, s)
}

// A process that approves is killed, a hundred times: what it reported done is there, the folder is
// clean at most after Repair, and each look has a golden.
func TestKill(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	for i := range 3 {
		approve(t, s, approval(fmt.Sprintf("walk %d", i), "shared", panel(i)))
	}
	rnd := rand.New(rand.NewPCG(4, 2))
	reported, repaired := 0, 0
	for round := range 100 {
		cmd := childCommand(t, dir, "round "+strconv.Itoa(round), "forever")
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		var done []string
		sc := bufio.NewScanner(out)
		if sc.Scan() { // it is at work; the next approval is cut at any moment of its own
			done = append(done, strings.Fields(sc.Text())...)
		}
		time.Sleep(time.Duration(rnd.IntN(12_000)) * time.Microsecond)
		cmd.Process.Kill()
		for sc.Scan() {
			if f := strings.Fields(sc.Text()); len(f) == 3 {
				done = append(done, f...)
			}
		}
		cmd.Wait()
		reported += len(done)

		have := recorded(t, s)
		for _, h := range done {
			if !have[h] {
				t.Fatalf("round %d: line %s was reported done and is not in the ledger", round, h)
			}
		}
		for i := range 3 {
			if _, _, err := s.Get(target, fmt.Sprintf("walk %d", i), "shared"); err != nil {
				t.Fatalf("round %d: %v", round, err)
			}
		}
		if r, err := s.Check(); err != nil || !r.Clean() {
			repaired++
			if _, err := s.Repair(); err != nil {
				t.Fatalf("round %d: %v", round, err)
			}
		}
		clean(t, s)
		if all, err := filepath.Glob(filepath.Join(dir, target, "*", ".*")); err != nil || len(all) != 0 {
			t.Fatalf("round %d: %v is left", round, all)
		}
	}
	t.Logf("100 kills: %d lines reported done, %d rounds to repair", reported, repaired)
	if reported == 0 {
		t.Error("no process got as far as approving")
	}
}
