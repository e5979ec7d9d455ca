package critic

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare/lint"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/demo/firmware/faults"
)

// scenes lead to what the demo can show, each from home.
var scenes = []struct{ name, steps string }{
	{"home", ""},
	{"home low", `feed: {temperature: none, humidity: none, battery: 4, radio: 0, next-misting: none}`},
	{"panel", `tap: {on: manual}; tap: {on: fan}`},
	{"schedule", `tap: {on: schedule}`},
	{"schedule off", `tap: {on: schedule}; tap: [160, 60]`},
	{"schedule below", `tap: {on: schedule}; drag: {from: [160, 180], to: [160, 60]}`},
	{"sensors", `tap: {on: sensors}`},
	{"no sensors", `feed: {sensors: ""}; tap: {on: sensors}`},
	{"chart", `tap: {on: chart}`},
	{"chart read", `tap: {on: chart}; turn: 5`},
	{"settings", `tap: {on: settings}`},
	{"languages", `tap: {on: settings}; tap: {on: language}`},
	{"about", `tap: {on: settings}; tap: {on: about}`},
	{"pair", `tap: {on: sensors}; tap: {on: add}`},
	{"code short", `tap: {on: sensors}; tap: {on: add}; type: "1\n"`},
	{"code wrong", `tap: {on: sensors}; tap: {on: add}; type: "1111\n"`},
	{"search", `feed: {pairing-code: 2486}; tap: {on: sensors}; tap: {on: add}; type: "2486\n"`},
	{"name", `feed: {pairing-code: 2486}; tap: {on: sensors}; tap: {on: add}; type: "2486\n"; feed: {sensors: [a, b, Propagator]}`},
	{"alarm heat", `feed: {alarm: heat}`},
	{"alarm frost", `feed: {alarm: frost}`},
	{"alarm dry", `feed: {alarm: dry}`},
	{"alarm tank", `feed: {alarm: tank}`},
	{"alarm valve", `feed: {alarm: valve}`},
	{"season spring", `feed: {season: spring}`},
	{"season summer", `feed: {season: summer}`},
	{"season autumn", `feed: {season: autumn}`},
	{"season winter", `feed: {season: winter}`},
}

// everything is what a build of the demo shows, in its four languages: the scenes whose names begin so.
func everything(t *testing.T, wasm []byte, prefix string) []lint.Picture {
	t.Helper()
	var out []lint.Picture
	d, err := bench.OnLink("twin:").Open(t.Context(), bench.Options{BuiltIn: wasm})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	p := suites.Play(d, nil)
	for _, scene := range scenes {
		if !strings.HasPrefix(scene.name, prefix) {
			continue
		}
		for _, tongue := range []string{"en", "de", "fr", "es"} {
			if err := p.Begin(t.Context()); err != nil {
				t.Fatal(err)
			}
			list := []string{"clock: 2031-05-04T09:30:00", "settle", fmt.Sprintf("feed: {language: %s}", tongue)}
			if scene.steps != "" {
				list = append(list, strings.Split(scene.steps, "; ")...)
			}
			steps, err := suites.ReadSteps(scene.name, "  - "+strings.Join(list, "\n  - settle\n  - ")+"\n  - settle\n")
			if err != nil {
				t.Fatal(err)
			}
			for _, s := range steps {
				if err := p.Take(t.Context(), s); err != nil {
					t.Fatalf("%s in %s: %v", scene.name, tongue, err)
				}
			}
			shot, err := d.Look(t.Context(), link.LookOptions{Redraw: true})
			if err != nil {
				t.Fatal(err)
			}
			pic := lint.Picture{Name: scene.name + " " + tongue, Image: shot.Frame.RGBA(), Format: capture.RGB565LE}
			if items, err := d.List(t.Context(), link.Targets); err == nil {
				for _, item := range items {
					var x, y, w, h int
					fmt.Sscanf(item.Value, "%d,%d,%d,%d", &x, &y, &w, &h)
					pic.Targets = append(pic.Targets, lint.NewTarget(item.Name, x, y, w, h))
				}
			}
			out = append(out, pic)
		}
	}
	return out
}

// toolkits are frames of real user interfaces: capture/link/cost/testdata has where they are from.
func toolkits(t *testing.T) []lint.Picture {
	t.Helper()
	files, err := filepath.Glob("../../capture/link/cost/testdata/ui/*.png")
	if err != nil || len(files) < 20 {
		t.Fatalf("%d frames, want twenty: %v", len(files), err)
	}
	var out []lint.Picture
	for _, f := range files {
		m, err := picture.Read(f)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, lint.Picture{Name: strings.TrimSuffix(filepath.Base(f), ".png"), Image: m})
	}
	return out
}

// TestLintIsWorthReading holds the findings on the demo in all languages and on the toolkits' frames against
// a person's judgement of each, testdata/judged.csv: what was judged was all there is, and four in five were
// worth reading.
func TestLintIsWorthReading(t *testing.T) {
	wasm, err := demo.Twin()
	if err != nil {
		t.Fatal(err)
	}
	found := append(lint.Check(everything(t, wasm, ""), lint.Defaults), lint.Check(toolkits(t), lint.Defaults)...)
	f, err := os.Open("testdata/judged.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	judged := map[string]string{}
	for _, row := range rows[1:] {
		judged[strings.Join(row[:3], ",")] = row[3]
	}
	useless := 0
	for _, fd := range found {
		key := fmt.Sprintf("%s,%s,%d %d %d %d", fd.Picture, fd.Kind, fd.X, fd.Y, fd.W, fd.H)
		switch judged[key] {
		case "useful":
		case "useless":
			useless++
		default:
			t.Errorf("nobody has judged %s: %s", key, fd.Says)
		}
		delete(judged, key)
	}
	for key := range judged {
		t.Errorf("judged, and not found any more: %s", key)
	}
	t.Logf("%d findings, %d of them useless", len(found), useless)
	if useless*5 >= len(found) {
		t.Errorf("%d of %d findings are useless, want less than one in five", useless, len(found))
	}
}

// TestLintFindsPlantedFaults: what a build with a fault shows on the screens that it is on, and no more.
func TestLintFindsPlantedFaults(t *testing.T) {
	b, err := faults.New("../demo/firmware", t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		fault, kind, prefix string
		only                string // pictures whose names hold this, and no others
	}{
		{"overflow", lint.OverEdge, "season", " de"},
		{"low-contrast", lint.Contrast, "alarm", "alarm"},
	} {
		wasm, err := b.Plant(tt.fault)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, fd := range lint.Check(everything(t, wasm, tt.prefix), lint.Defaults) {
			if fd.Kind == lint.Language && tt.kind == lint.OverEdge && strings.Contains(fd.Picture, tt.only) {
				continue // it says the same
			}
			if fd.Kind != tt.kind || !strings.HasPrefix(fd.Picture, tt.prefix) || !strings.Contains(fd.Picture, tt.only) {
				t.Errorf("%s: also found %s in %q: %s", tt.fault, fd.Kind, fd.Picture, fd.Says)
				continue
			}
			n++
		}
		if n == 0 {
			t.Errorf("%s was not found", tt.fault)
		}
		t.Logf("%s: %d findings", tt.fault, n)
	}
}
