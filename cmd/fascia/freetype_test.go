package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/suites/between"
)

// dejaVu is a face with hints of its own, as Debian's package fonts-dejavu-core has it.
const dejaVu = "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf"

// A change of rendering that nobody here wrote: text drawn by Debian's FreeType with two versions of its own
// interpreter of hints, which its documentation calls 35 and 40 (FREETYPE_PROPERTIES, truetype:interpreter-version).
// The changes found are other edges of the text, and nothing else.
func TestBetweenTwoHintings(t *testing.T) {
	dir := t.TempDir()
	write := func(name, data string) {
		t.Helper()
		if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), []byte(data), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	device := filepath.Join(dir, "device")
	agent := "../../capture/link/agent"
	if out, err := exec.Command("gcc", "-std=c99", "-O1", "-Wall", "-Wextra", "-Werror", "-I/usr/include/freetype2", "-I"+agent, "-o", device,
		"../../suites/demo/freetype/device.c", agent+"/fascia_agent.c", "-lfreetype").CombinedOutput(); err != nil {
		t.Fatalf("build the device: %v (it needs gcc, libfreetype-dev and fonts-dejavu-core; make test installs them on Debian)\n%s", err, out)
	}
	walk := "walk: menu\nsteps:\n  - look: page 1\n"
	for k := 2; k <= 6; k++ {
		walk += fmt.Sprintf("  - turn: 1\n  - look: page %d\n", k)
	}
	write("walks/menu.yaml", walk)
	t.Setenv(asCommand, "1")
	var runs [2]string
	for i, version := range []int{35, 40} {
		bench := fmt.Sprintf("bench-%d.yaml", version)
		write(bench, fmt.Sprintf("bench: hinting %d\ntarget: menu-320\ndevice:\n  link: exec:env FREETYPE_PROPERTIES=truetype:interpreter-version=%d %s %s\n", version, version, device, dejaVu))
		var out, errs bytes.Buffer
		if status := run([]string{"run", "--bench", filepath.Join(dir, bench)}, &out, &errs); status != exitDiffers {
			t.Fatalf("%s: exit status %d\n%s%s", bench, status, out.String(), errs.String())
		}
		_, page, _ := strings.Cut(out.String(), "report: ")
		page, _, _ = strings.Cut(page, "\n")
		runs[i] = filepath.Dir(page)
	}
	p, err := between.Open(runs[0], runs[1])
	if err != nil {
		t.Fatal(err)
	}
	r, err := p.Compare()
	if err != nil {
		t.Fatal(err)
	}
	all := r.All()
	if r.Differ() != 6 || len(all) != 1 || all[0].Cause != "edges" || !strings.HasPrefix(all[0].Says, "Text drawn with other edges") || len(all[0].Looks) != 6 {
		var out bytes.Buffer
		r.Tell(&out)
		t.Errorf("want other edges of text on 6 looks and nothing else:\n%s", out.String())
	}
}
