package campaign

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/cmd/fascia/internal/built"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites/desktest"
)

// post sends what the page would send.
func post(url string, looks ...int) error {
	var wants []map[string]int
	for _, n := range looks {
		wants = append(wants, map[string]int{"look": n})
	}
	body, err := json.Marshal(map[string]any{"who": "Ada", "why": "by the page", "wants": wants})
	if err != nil {
		return err
	}
	r, err := http.NewRequest("POST", url+"write", bytes.NewReader(body))
	if err != nil {
		return err
	}
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Origin", strings.Join(strings.Split(url, "/")[:3], "/"))
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		return err
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		return fmt.Errorf("status %d", resp.StatusCode)
	}
	return json.NewDecoder(resp.Body).Decode(new(map[string]any)) // the whole answer
}

// The review page and the approving command are killed while they approve twenty looks: all or none took
// effect, what was reported done is there, and the goldens are clean at most after a repair.
func TestKilledApproval(t *testing.T) {
	rounds := 12
	if os.Getenv("FASCIA_LONG") != "" {
		rounds = 100
	}
	rng := rand.New(rand.NewPCG(7, 20))
	dir := t.TempDir()
	runDir := desktest.Make(t, dir, 20)
	var all []int
	for n := range 20 {
		all = append(all, n)
	}
	kept, at := filepath.Join(t.TempDir(), "golden"), filepath.Join(dir, "golden")
	if err := os.CopyFS(kept, os.DirFS(at)); err != nil {
		t.Fatal(err)
	}
	done, cut := 0, 0
	for round := range rounds {
		if err := errors.Join(os.RemoveAll(at), os.CopyFS(at, os.DirFS(kept))); err != nil {
			t.Fatal(err)
		}
		var reported bool
		if round%2 == 0 {
			url, cmd, stop := built.Serve(t, "review", runDir, "--by", "Ada")
			go func() {
				time.Sleep(time.Duration(rng.IntN(40_000)) * time.Microsecond)
				cmd.Process.Kill()
			}()
			reported = post(url, all...) == nil
			cmd.Process.Kill()
			stop()
		} else {
			cmd := exec.Command(built.Path, "approve", runDir, "--all", "--by", "Ada", "--reason", "by command")
			var out bytes.Buffer
			cmd.Stdout = &out
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			time.Sleep(time.Duration(20_000+rng.IntN(120_000)) * time.Microsecond)
			cmd.Process.Kill()
			cmd.Wait()
			reported = strings.Contains(out.String(), "20 looks")
		}
		s, err := golden.Open(at)
		if err != nil {
			t.Fatal(err)
		}
		count := func() int {
			es, err := s.Goldens()
			if err != nil {
				t.Fatal(err)
			}
			n := 0
			for _, e := range es {
				if _, _, err := s.Get(e.Target, e.Walk, e.Look); err != nil {
					t.Fatalf("round %d: %v", round, err)
				}
				if e.Who == "Ada" {
					n++
				}
			}
			return n
		}
		n := count()
		if n != 0 && n != 20 || reported && n != 20 {
			t.Fatalf("round %d: %d of 20 approvals took effect, reported: %v", round, n, reported)
		}
		if _, err := s.Repair(); err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		if r, err := s.Check(); err != nil || !r.Clean() || count() != n {
			t.Fatalf("round %d: after repair %+v, %v", round, r.Problems, err)
		}
		if reported {
			done++
		} else {
			cut++
		}
	}
	t.Logf("%d kills: %d approvals reported done, %d not", rounds, done, cut)
	if cut == 0 {
		t.Error("every approval was done before its process was killed, so nothing was tested")
	}
}

// The page and the command approve at once: both are in the ledger.
func TestApproveFromTwoProcesses(t *testing.T) {
	dir := t.TempDir()
	runDir := desktest.Make(t, dir, 20)
	url, _, _ := built.Serve(t, "review", runDir, "--by", "Ada")
	var wg sync.WaitGroup
	wg.Go(func() {
		for n := range 5 { // looks 0, 4, 8 … stand first in the run: walk 0
			if err := post(url, n); err != nil {
				t.Errorf("by the page: %v", err)
			}
		}
	})
	wg.Go(func() {
		for n := range 5 {
			cmd := exec.Command(built.Path, "approve", runDir, "--look", fmt.Sprintf("walk 3/look %d", 3+4*n), "--by", "Lin", "--reason", "by command")
			if out, err := cmd.CombinedOutput(); err != nil {
				t.Errorf("by command: %v: %s", err, out)
			}
		}
	})
	wg.Wait()
	s, err := golden.Open(filepath.Join(dir, "golden"))
	if err != nil {
		t.Fatal(err)
	}
	es, err := s.Entries()
	if err != nil {
		t.Fatal(err)
	}
	by := map[string]int{}
	for _, e := range es {
		by[e.Who]++
	}
	if by["Ada"] != 5 || by["Lin"] != 5 {
		t.Errorf("in the ledger are %v", by)
	}
	if r, err := s.Check(); err != nil || !r.Clean() {
		t.Errorf("check: %+v, %v", r.Problems, err)
	}
}
