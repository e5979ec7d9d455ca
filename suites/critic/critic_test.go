package critic

import (
	"image"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare/lint"
	"github.com/fascia-bench/fascia/suites/schema"
	"github.com/fascia-bench/fascia/suites/schema/schematest"
	"github.com/fascia-bench/fascia/suites/wander/atlas"
)

// What the schema takes the reader takes, and the demo's file fits.
func TestSchemaOfLint(t *testing.T) {
	s, err := schematest.Compile("lint")
	if err != nil {
		t.Fatal(err)
	}
	good, err := os.ReadFile("../demo/lint.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for text, ok := range map[string]bool{
		string(good):                                      true,
		"accept: [{kind: contrast}]":                      false,
		"accept: [{kind: pale, why: x}]":                  false,
		"accept: [{kind: touching, why: x}]":              true,
		"accept: [{kind: touching, why: x, box: [1, 2]}]": false,
	} {
		file := filepath.Join(t.TempDir(), "a.yaml")
		if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
		_, readErr := Read(file)
		if schemaErr := s.CheckYAML([]byte(text)); (schemaErr == nil) != ok || (readErr == nil) != ok {
			t.Errorf("%q: schema %v, reader %v, want ok %v", text, schemaErr, readErr, ok)
		}
	}
	for _, kind := range lint.Kinds {
		if text, err := schema.Get("lint"); err != nil || !strings.Contains(string(text), `"`+kind+`"`) {
			t.Errorf("the schema does not know %s: %v", kind, err)
		}
	}
}

func TestAcceptsNeedAReason(t *testing.T) {
	for text, want := range map[string]string{
		"accept:\n  - {kind: contrast}\n":                          "a.yaml:2:",
		"accept:\n  - {kind: contrats, why: x}\n":                  `unknown kind "contrats"`,
		"accept:\n  - {kind: contrast, why: \" \"}\n":              "why it is accepted",
		"accept:\n  - {kind: contrast, why: x, box: [1, 2, 3]}\n":  "height",
		"accepted:\n  - {kind: contrast, why: x}\n":                `unknown name "accepted"`,
		"accept:\n  - {kind: contrast, look: home/mild, why: x}\n": `unknown name "look"`,
	} {
		file := filepath.Join(t.TempDir(), "a.yaml")
		if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
		if _, err := Read(file); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func TestSort(t *testing.T) {
	f := lint.Finding{Picture: "chart/a day", Kind: lint.Contrast, X: 10, Y: 10, W: 20, H: 8}
	tests := []struct {
		a    Accept
		want bool
		why  string
	}{
		{Accept{Kind: lint.Contrast}, true, "anywhere"},
		{Accept{Kind: lint.Touching}, false, "another kind"},
		{Accept{Kind: lint.Contrast, Picture: "chart/*"}, true, "a picture of that folder"},
		{Accept{Kind: lint.Contrast, Picture: "*day"}, true, "by its end"},
		{Accept{Kind: lint.Contrast, Picture: "chart"}, false, "a name is whole"},
		{Accept{Kind: lint.Contrast, Box: image.Rect(10, 10, 30, 18)}, true, "just in the box"},
		{Accept{Kind: lint.Contrast, Box: image.Rect(10, 10, 29, 18)}, false, "it sticks out"},
	}
	for _, tt := range tests {
		open, accepted := Sort([]lint.Finding{f}, []*Accept{&tt.a})
		if (len(accepted) == 1) != tt.want || len(open)+len(accepted) != 1 || (tt.a.Used == 1) != tt.want {
			t.Errorf("%+v: open %v, accepted %v, want accepted %v: %s", tt.a, open, accepted, tt.want, tt.why)
		}
	}
}

// A row that is scrolled halfway out of sight is no small target: it is larger on another screen.
func TestMapBringsTargets(t *testing.T) {
	dir := t.TempDir()
	for _, f := range []string{"s1.png", "s2.png"} {
		if err := picture.WritePNG(filepath.Join(dir, f), image.NewRGBA(image.Rect(0, 0, 64, 48))); err != nil {
			t.Fatal(err)
		}
	}
	m := atlas.Map{Wander: atlas.Version, Panel: atlas.Panel{Width: 64, Height: 48, Format: "rgb565le"}, Screens: []atlas.Screen{
		{Screen: "s1", Picture: "s1.png", Name: "list", Targets: []atlas.Target{{Name: "row", W: 64, H: 40}, {Name: "x", W: 12, H: 40}}},
		{Screen: "s2", Picture: "s2.png", Name: "list", Targets: []atlas.Target{{Name: "row", W: 64, H: 9}}},
	}}
	if err := m.Save(dir); err != nil {
		t.Fatal(err)
	}
	ps, err := Gather(dir, 0)
	if err != nil {
		t.Fatal(err)
	}
	found := lint.Check(ps, lint.Defaults)
	if len(found) != 1 || found[0].Kind != lint.SmallTap || found[0].W != 12 || ps[0].Format != capture.RGB565LE {
		t.Errorf("found %+v, want the target that is 12 wide", found)
	}
}
