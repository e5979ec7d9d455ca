package suites

import (
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/suites/schema"
	"github.com/fascia-bench/fascia/suites/schema/schematest"
)

func TestSchemaKnowsTheSteps(t *testing.T) {
	text, err := schema.Get("walk")
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Defs struct {
			Step struct {
				AnyOf []struct{ Properties map[string]any }
			}
		} `json:"$defs"`
	}
	if err := json.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	inSchema := slices.Sorted(maps.Keys(doc.Defs.Step.AnyOf[1].Properties))
	inParser := slices.Sorted(slices.Values(stepNames()))
	if !slices.Equal(inSchema, inParser) {
		t.Errorf("the schema has the steps %v, the parser %v", inSchema, inParser)
	}
}

func TestSchemaTakesTheDemo(t *testing.T) {
	for name, pattern := range map[string]string{"walk": "demo/walks*/*.yaml", "bench": "demo/bench*.yaml"} {
		s, err := schematest.Compile(name)
		if err != nil {
			t.Fatal(err)
		}
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatalf("no file matches %s: %v", pattern, err)
		}
		for _, f := range files {
			src, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			if err := s.CheckYAML(src); err != nil {
				t.Errorf("%s: %v", f, err)
			}
		}
	}
}

// steps to try on parser and schema: both take them, or both refuse.
var stepTable = []struct {
	step string
	ok   bool
}{
	{"reset", true}, {"settle", true}, {"redraw", true}, {"tap", false}, {"jump", false},
	{"reset:", true}, {"reset: now", false}, {"redraw: 1", false},
	{"wait: 250ms", true}, {"wait: 250", false}, {"wait: soon", false}, {"wait: [1]", false},
	{"settle: 2s", true}, {"settle: {still: 1s, latest: 2s}", true}, {"settle: {quiet: 1s}", false},
	{"clock: 2031-05-04T09:30:00", true}, {"clock: hold", true}, {"clock: stop", false}, {"clock: {step: 1s}", true},
	{"clock: {set: 2031-05-04, run: true}", true}, {"clock: {set: 2031-05-04, step: 1s}", false}, {"clock: {}", false},
	{"feed: {a: 1, b: [x, y]}", true}, {"feed: {a: {b: 1}}", false}, {"feed: 3", false},
	{"tap: [1, 2]", true}, {"tap: [1]", false}, {"tap: [1, 2, 3]", false}, {"tap: [-1, 2]", false}, {"tap: {on: save}", true}, {"tap: {at: save}", false},
	{"hold: [1, 2]", true}, {"hold: {at: [1, 2], for: 1s}", true}, {"hold: {for: 1s}", false},
	{"drag: {from: [1, 2], to: [3, 4]}", true}, {"drag: {from: [1, 2]}", false}, {"drag: {from: [1, 2], to: [3, 4], by: 3s}", false},
	{"key: enter", true}, {"key: [ctrl, a]", true}, {"key: []", false}, {"key: {a: b}", false},
	{"type: text", true}, {"type: [a]", false},
	{"turn: 8", true}, {"turn: -8", true}, {"turn: 0", false}, {"turn: {by: 3, knob: 1}", true}, {"turn: {knob: 1}", false}, {"turn: far", false},
	{"roll: 2", true}, {"roll: 0", false},
	{"exec: door", true}, {"exec: [door]", false},
	{"look: home", true}, {"look: {name: home, settle: 2s}", true}, {"look: {settle: 2s}", false}, {"look: {name: home, ignore: {clock: it runs}}", true},
	{"look: {name: home, ignore: {clock: \"\"}}", false}, {"look: {name: home, mask: x}", false},
	{"look: {name: home, allow: [{edges-only: yes, why: x}]}", true}, {"look: {name: home, allow: [{edges-only: true, smaller-than: 3, why: x}]}", false},
	{"look: {name: home, allow: [{smaller-than: 3}]}", false}, {"look: {name: home, allow: [{colour-below: 2.5, why: x}]}", true}, {"look: {name: home, allow: [{colour-below: -1, why: x}]}", false},
	{"look: {name: home, aside: {until: 2031-06-01, why: x}}", true}, {"look: {name: home, aside: {until: soon, why: x}}", false}, {"look: {name: home, aside: {until: 2031-06-01}}", false},
	{"log: lamp 64", true}, {"log: [a]", false},
	{"within: 300ms", true}, {"within: 300", false},
	{"lamp: {status: on, left: \"#20c040\"}", true}, {"lamp: {status: dim}", false}, {"lamp: on", false},
	{"steady: {gauge: heap-free}", true}, {"steady: {screen: chart}", true}, {"steady: heap-free", false}, {"steady: {gauge: a, screen: b}", false}, {"steady: {gauge: \" \"}", false}, {"steady: {}", false},
	{"hand: press the key", true}, {"hand: {ask: press, within: 1m}", true}, {"hand: {within: 1m}", false},
	{"each: {language: [de, fr], steps: [reset]}", true}, {"each: {steps: [reset]}", false}, {"each: {language: [de], theme: [dark], steps: [reset]}", false}, {"each: {Language: [de], steps: [reset]}", false},
	{"via: [a]", false},
	{"lamp: {status: amber}", true}, {"lamp: {status: mauve}", false},
	{"glass", true}, {"glass:", true}, {"glass: {uniformity: 0.6}", true}, {"glass: {uniformity: 2}", false}, {"glass: 1", false},
	{"sweep: {name: s, feed: lamp, over: [0, 50, 100]}", true}, {"sweep: {name: s, feed: lamp}", false}, {"sweep: {feed: lamp, over: [0, 1]}", false},
	{"sweep: {name: s, turn: 4, steps: 8}", true}, {"sweep: {name: s, turn: 4, key: enter, steps: 8}", false}, {"sweep: {name: s, key: enter, steps: 3}", true},
	{"sweep: {name: s, turn: 4, over: [0, 1]}", false}, {"sweep: {name: s, turn: 0, steps: 8}", false}, {"sweep: {name: s, feed: lamp, over: [0]}", false},
	{"sweep: {name: s, feed: lamp, over: [0, 100], curve: {0: 0.1, 100: 0.9}, tolerance: 0.1, rises: no, first: [0, 0.2], last: [0.5, 1.5]}", true},
	{"sweep: {name: s, feed: lamp, over: [0, 100], curve: {0: 0.1}}", false}, {"sweep: {name: s, feed: lamp, over: [0, 100], first: [0]}", false},
}

func TestSchemaAndParserAgree(t *testing.T) {
	s, err := schematest.Compile("walk")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for _, tt := range stepTable {
		src := []byte("walk: w\nareas: {clock: [0, 0, 9, 9]}\nsteps:\n  - " + tt.step + "\n")
		file := filepath.Join(dir, "w.yaml")
		if err := os.WriteFile(file, src, 0o666); err != nil {
			t.Fatal(err)
		}
		_, parserErr := newReader(&bench.Bench{Dir: dir, Commands: map[string]string{"door": "x"}}).read(file)
		if (parserErr == nil) != tt.ok {
			t.Errorf("parser on %s: %v, want ok: %v", tt.step, parserErr, tt.ok)
		}
		if schemaErr := s.CheckYAML(src); (schemaErr == nil) != tt.ok {
			t.Errorf("schema on %s: %v, want ok: %v", tt.step, schemaErr, tt.ok)
		}
	}
}

// camera sections to try on parser and schema of bench.yaml: both take them, or both refuse.
var cameraTable = []struct {
	section string
	ok      bool
}{
	{"{source: /dev/video0}", true}, {"{source: 0}", true}, {"{source: [a]}", false}, {"{sauce: x}", false}, {"{}", true}, {"[]", false},
	{"{average: 8, drop: 0, timeout: 2s}", true}, {"{average: 0}", false}, {"{average: 65}", false}, {"{drop: -1}", false}, {"{timeout: 2}", false},
	{"{exposure: -6, gain: 3.5, white: 4600, focus: 20}", true}, {"{gain: -1}", false}, {"{exposure: long}", false},
	{"{golden: photo}", true}, {"{golden: dump}", true}, {"{golden: film}", false},
	{"{keep: all}", true}, {"{keep: differing}", true}, {"{keep: some}", false},
	{"{false-alarm: 0.001}", true}, {"{false-alarm: 0}", false}, {"{false-alarm: 1}", false},
	{"{lamps: {status: [10, 20.5, 6]}}", true}, {"{lamps: {status: [10, 20]}}", false}, {"{lamps: {status: [10, 20, 0]}}", false}, {"{lamps: [status]}", false},
	{"{aligned: {photo: [640, 480], panel: [320, 240], optics: {file: b.optics, sha256: 0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef}}}", true},
	{"{aligned: {photo: [640, 480], panel: [320, 240]}}", false}, {"{aligned: {photo: [640, 480], panel: [320, 240], optics: {file: a/b, sha256: 0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef}}}", false},
	{"{aligned: {photo: [640, 480], panel: [320, 240], plane: [1, 2], optics: {file: b, sha256: 0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef}}}", false},
	{"{aligned: {photo: [640, 480], panel: [320, 240], lens: {k9: 1}, optics: {file: b, sha256: 0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef}}}", false},
}

func TestSchemaAndParserAgreeOnCameras(t *testing.T) {
	s, err := schematest.Compile("bench")
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "bench.yaml")
	for _, tt := range cameraTable {
		src := []byte("bench: b\ntarget: t\ndevice: {link: \"twin:\"}\ncamera: " + tt.section + "\n")
		if err := os.WriteFile(file, src, 0o666); err != nil {
			t.Fatal(err)
		}
		if _, err := bench.Read(file); (err == nil) != tt.ok {
			t.Errorf("parser on %s: %v, want ok: %v", tt.section, err, tt.ok)
		}
		if err := s.CheckYAML(src); (err == nil) != tt.ok {
			t.Errorf("schema on %s: %v, want ok: %v", tt.section, err, tt.ok)
		}
	}
}
