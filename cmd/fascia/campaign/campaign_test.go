// Package campaign holds the long tests of the command: many devices, many kills. They run the built
// command, in processes of its own.
package campaign

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/cmd/fascia/internal/built"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/record"
)

func TestMain(m *testing.M) { built.Main(m) }

// long reports whether campaigns are to be run whole.
func long() bool { return os.Getenv("FASCIA_LONG") != "" }

// crowd unpacks the demo with n walks of ten looks each, which feed a value of their own to the home screen:
// a result that was mixed up with another's would show another number.
func crowd(tb testing.TB, n int) string {
	tb.Helper()
	dir := tb.TempDir()
	if err := demo.Unpack(dir); err != nil {
		tb.Fatal(err)
	}
	if err := os.RemoveAll(filepath.Join(dir, "walks")); err != nil {
		tb.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(dir, "walks"), 0o777); err != nil {
		tb.Fatal(err)
	}
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, "walks", name), []byte(text), 0o666); err != nil {
			tb.Fatal(err)
		}
	}
	write("start.yaml", "walk: start\nsteps:\n  - clock: 2031-05-04T09:30:00\n  - wait: 2s\n  - settle\n")
	for i := range n {
		var b strings.Builder
		fmt.Fprintf(&b, "walk: crowd %d\nfrom: start.yaml\nsteps:\n", i)
		for k := range 10 {
			fmt.Fprintf(&b, "  - feed: {temperature: %d.%d, humidity: %d}\n  - log: feed temperature %d.%d\n  - look: number %d\n", i%60, k, i%100, i%60, k, k)
		}
		write(fmt.Sprintf("crowd-%03d.yaml", i), b.String())
	}
	return dir
}

// Eight twins share the walks of a crowd; every look must be the picture of its own walk. 200 walks and
// 2,000 looks in make long, a sample here.
func TestEightTwinsMixNothingUp(t *testing.T) {
	n := 16
	if long() {
		n = 200
	}
	dir := crowd(t, n)
	bench := filepath.Join(dir, demo.BenchFile)
	built.Run(t, built.Differs, "run", "--bench", bench)
	built.Run(t, built.OK, "approve", "--bench", bench, "--all", "--by", "test", "--reason", "as one twin drew them")
	args := []string{"run"}
	for range 8 {
		args = append(args, "--bench", bench)
	}
	out := built.Run(t, built.OK, args...)
	want := fmt.Sprintf("%d looks: %d same", 10*n, 10*n)
	if !strings.Contains(out, want) {
		t.Errorf("eight twins: no %q in\n%s", want, out)
	}
}

// BenchmarkManyTwins: the same walks on eight twins against one, the time of the host and the link a look,
// how many cores are busy, and what the processes of eight twins have in memory together; of a build whose every look is as
// approved, and of one whose every look differs and is explained. 200 walks and 2,000 looks under FASCIA_LONG.
//
// One run already keeps more than one core busy, so that eight are held against one twice: as both are run by a user, and
// against one that has a single core, which is how well the work spreads over cores.
func BenchmarkManyTwins(b *testing.B) {
	n := 40
	if long() {
		n = 200
	}
	dir := crowd(b, n)
	approved := filepath.Join(dir, demo.BenchFile)
	built.Run(b, built.Differs, "run", "--bench", approved)
	built.Run(b, built.OK, "approve", "--bench", approved, "--all", "--by", "test", "--reason", "as one twin drew them")
	for name, bench := range map[string]string{"as-approved": approved, "all-differ": filepath.Join(dir, demo.UpgradeFile)} {
		b.Run(name, func(b *testing.B) {
			args := []string{"run"}
			for range 8 {
				args = append(args, "--bench", bench)
			}
			for b.Loop() {
				one, busy := timed(b, built.Path, "run", "--bench", bench)
				b.ReportMetric(perLook(b, dir), "ms/look-median")
				b.ReportMetric(busy.Seconds()/one.Seconds(), "cores-of-one") // no more than cores over this can be gained
				eight, busy := timed(b, built.Path, args...)
				b.ReportMetric(one.Seconds()/eight.Seconds(), "times-one-twin")
				single, _ := timed(b, "taskset", "--cpu-list", "0", built.Path, "run", "--bench", bench) // of util-linux
				b.ReportMetric(single.Seconds()/eight.Seconds(), "times-one-twin-on-one-core")
				b.ReportMetric(busy.Seconds()/eight.Seconds(), "cores-of-eight")
				b.ReportMetric(float64(runtime.NumCPU()), "cores")
				b.ReportMetric(float64(watch(b, args...))/1e6, "MB-peak")
			}
		})
	}
}

// timed runs a command and returns what it took, and how long it and its processes kept a core busy.
func timed(tb testing.TB, name string, args ...string) (took, busy time.Duration) {
	tb.Helper()
	cmd := exec.Command(name, args...)
	start := time.Now()
	if out, err := cmd.CombinedOutput(); !walked(cmd, err) {
		tb.Fatalf("%v\n%s", err, out)
	}
	return time.Since(start), cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
}

// walked reports whether a run came to its end, whatever it found.
func walked(cmd *exec.Cmd, err error) bool {
	return err == nil || cmd.ProcessState != nil && cmd.ProcessState.ExitCode() == built.Differs
}

// perLook is what a look took in the newest run, host and twin together: the median over its walks.
func perLook(tb testing.TB, dir string) float64 {
	tb.Helper()
	newest, err := record.Latest(filepath.Join(dir, suites.RunsDir))
	if err != nil {
		tb.Fatal(err)
	}
	run, err := record.Load(newest)
	if err != nil {
		tb.Fatal(err)
	}
	var took []float64
	for _, w := range run.Walks {
		if w.Looks > 0 {
			took = append(took, 1000*w.Took/float64(w.Looks))
		}
	}
	slices.Sort(took)
	return took[len(took)/2]
}

// watch runs the command and returns the most that it and the processes it starts had in memory at once, in
// bytes, pages that they share counted once (Pss of proc_pid_smaps_rollup).
func watch(tb testing.TB, args ...string) (peak int64) {
	tb.Helper()
	cmd := exec.Command(built.Path, args...)
	if err := cmd.Start(); err != nil {
		tb.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- cmd.Wait() }()
	for {
		select {
		case err := <-done:
			if !walked(cmd, err) {
				tb.Fatal(err)
			}
			return peak
		case <-time.After(20 * time.Millisecond):
			sum := shared(cmd.Process.Pid)
			var children []byte
			tasks, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/children", cmd.Process.Pid))
			for _, t := range tasks {
				list, _ := os.ReadFile(t)
				children = append(children, list...)
			}
			seen := map[string]bool{}
			for _, pid := range strings.Fields(string(children)) {
				if n, err := strconv.Atoi(pid); err == nil && !seen[pid] {
					seen[pid] = true
					sum += shared(n)
				}
			}
			peak = max(peak, sum)
		}
	}
}

// shared is a process's memory in bytes, of shared pages its share; 0 where there is no such file.
func shared(pid int) int64 {
	text, _ := os.ReadFile(fmt.Sprintf("/proc/%d/smaps_rollup", pid))
	for line := range strings.Lines(string(text)) {
		var kB int64
		if n, _ := fmt.Sscanf(line, "Pss: %d kB", &kB); n == 1 {
			return kB * 1024
		}
	}
	return 0
}

// A run killed at any moment can be read and taken up, and then is whole. 50 moments in make long.
func TestKilledRunIsTakenUp(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 11))
	kills := 4
	if long() {
		kills = 50
	}
	resumed := 0
	for range kills {
		dir := scratch(t)
		if err := demo.Unpack(dir); err != nil {
			t.Fatal(err)
		}
		bench := filepath.Join(dir, demo.BenchFile)
		cmd := exec.Command(built.Path, "run", "--bench", bench)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(rng.IntN(2500)) * time.Millisecond)
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		time.Sleep(300 * time.Millisecond) // the driving process notices at its next word
		runs, _ := filepath.Glob(filepath.Join(dir, suites.RunsDir, "*"))
		if len(runs) == 0 {
			continue // killed before it began
		}
		before, err := record.Load(runs[0])
		if err != nil {
			t.Fatalf("after a kill: %v", err)
		}
		if !before.Ended.IsZero() {
			continue // it had ended
		}
		out := built.Run(t, built.OK, "run", "--bench", bench, "--resume", runs[0])
		if !strings.Contains(out, "50 looks: 50 same") {
			t.Fatalf("taken up after %d looks:\n%s", len(before.Looks), out)
		}
		resumed++
	}
	if resumed == 0 {
		t.Error("no run was killed midway: the test saw nothing")
	}
	t.Logf("%d of %d killed runs were taken up", resumed, kills)
}

// scratch is t.TempDir, but patient: the process that drives the device outlives its killed parent until
// it next has something to tell it.
func scratch(t *testing.T) string {
	dir, err := os.MkdirTemp("", "fascia")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		for range 100 {
			if err = os.RemoveAll(dir); err == nil {
				return
			}
			time.Sleep(50 * time.Millisecond)
		}
		t.Error(err)
	})
	return dir
}
