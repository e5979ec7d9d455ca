package link_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
)

// keyedSession is looks of screens that are new, changed in part, and offered in part, so that the device codes with and
// without a lesson.
func keyedSession(t *testing.T, s link.Stream, p capturetest.Panel) error {
	t.Helper()
	c := dial(t, s, link.Options{})
	want := p.NewFrame()
	same(t, "after boot", look(t, c, soon).Frame, want)
	feed(t, c, "paint", "1")
	capturetest.Paint(want, 1)
	same(t, "painted", look(t, c, soon).Frame, want)
	g := p.Format.Grid(p.Width, p.Height)
	for seed := uint32(2); seed <= 3; seed++ {
		x, y, w, h := g.Cells/int(seed), g.Rows/5, 1+g.Cells/9, 1+g.Rows/7
		feed(t, c, "area", fmt.Sprintf("%d,%d,%d,%d,%d", seed, x, y, w, h))
		capturetest.PaintArea(want, seed, x, y, w, h)
		same(t, fmt.Sprintf("area %d", seed), look(t, c, soon).Frame, want)
	}
	return c.Close()
}

// What the agent with codec 3 said in every format stands in a file, and so does what it was asked: the codec is held to
// the bit without an agent.
func TestRecordedAgents(t *testing.T) {
	for f := capture.MonoRows; f.Valid(); f++ {
		t.Run(f.String(), func(t *testing.T) {
			p := capturetest.Panel{Width: 45, Height: 33, Format: f}
			if f == capture.Palette8 {
				p.Colours = 60
			}
			file := filepath.Join("testdata", "recorded", f.String()+".txt")
			if *update {
				var r recording
				if err := keyedSession(t, r.recorder(denseDevice(t, p)), p); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(file, []byte(strings.Join(r.steps, "\n")+"\n"), 0o666); err != nil {
					t.Fatal(err)
				}
			}
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if err := keyedSession(t, &replay{steps: strings.Split(strings.TrimSpace(string(text)), "\n")}, p); err != nil {
				t.Error(err)
			}
		})
	}
}
