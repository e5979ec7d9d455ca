package atlas

import (
	"image"
	"image/color"
	"os"
	"path/filepath"
	"testing"

	"github.com/fascia-bench/fascia/capture/picture"
)

func TestAlikeOnTheDemo(t *testing.T) {
	goldens := "../../demo/golden/fernhouse-320"
	tests := []struct {
		a, b string
		want bool
		why  string
	}{
		{"home/mild", "home/frost", true, "figures differ"},
		{"home/mild", "languages/home-in-deutsch", true, "words differ"},
		{"bed-lamp/off", "bed-lamp/full", true, "a slider"},
		{"pairing/empty-code", "pairing/wrong-code", true, "a message"},
		{"about/settings", "languages/list", false, "another list in the same frame"},
		{"about/settings", "about/about", false, "another list"},
		{"home/mild", "manual-run/panel", false, "a panel over it"},
		{"alarm/frost", "season-reminder/autumn", false, "nothing in common"},
	}
	for _, tt := range tests {
		read := func(name string) image.Image {
			m, err := picture.Read(filepath.Join(goldens, name+".png"))
			if err != nil {
				t.Fatal(err)
			}
			return m
		}
		a, b := read(tt.a), read(tt.b)
		if got := Alike(a, b); got != tt.want || Alike(b, a) != tt.want || !Alike(a, a) {
			t.Errorf("%s and %s are alike: %v (%.2f), want %v: %s", tt.a, tt.b, got, Sign(a).Unlike(Sign(b)), tt.want, tt.why)
		}
	}
}

// Where Bounds starts, and which type of image it is, is not visible.
func TestSignIgnoresTheOrigin(t *testing.T) {
	draw := func(at image.Point) image.Image {
		m := image.NewNRGBA(image.Rect(at.X, at.Y, at.X+50, at.Y+37))
		for i := range 600 {
			m.Set(at.X+i%50, at.Y+i*7%37, color.NRGBA{uint8(i), 9, 9, 255})
		}
		return m
	}
	if !Alike(draw(image.Pt(0, 0)), draw(image.Pt(-3, 5))) {
		t.Error("a picture at another origin is another screen")
	}
}

func TestMapRefusesWhatIsNone(t *testing.T) {
	for text, why := range map[string]string{
		"{":             "cut short",
		`{"wander": 2}`: "a later version",
		`{"wander": 1, "screens": [{"screen": "s1", "picture": "../x.png"}]}`: "a picture outside its folder",
	} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, File), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
		if _, _, err := Load(dir); err == nil {
			t.Errorf("taken: %s", why)
		}
	}
	m := Map{Wander: Version, Seed: 3, Screens: []Screen{{Screen: "s1", Picture: "s1.png"}}}
	dir := t.TempDir()
	if err := m.Save(dir); err != nil {
		t.Fatal(err)
	}
	if got, _, err := Load(dir); err != nil || got.Seed != 3 || len(got.Screens) != 1 {
		t.Errorf("%+v, %v", got, err)
	}
}
