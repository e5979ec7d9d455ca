package photo

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
)

// TestGlass shows test cards to simulated rigs: a sound panel must give no finding, and each planted fault its own. The whole,
// FASCIA_LONG=1, goes over rigs of 1.7 to 3 photo px a panel px, of every difficulty, near the panel's normal and 15 degrees
// off; the sample has one rig.
//
//	FASCIA_LONG=1 go test -timeout 0 -v -run TestGlass ./compare/photo
func TestGlass(t *testing.T) {
	if os.Getenv("FASCIA_LONG") == "" {
		c, o := shared()
		checkGlass(t, c, o, simcam.Fair, 1, 1)
		return
	}
	seed := uint64(0)
	for _, ratio := range []float64{1.7, 2, 2.5, 3} {
		for _, d := range simcam.Difficulties {
			for _, tilt := range []float64{3, 15} {
				seed++
				c := simcam.New(glassRig(ratio, d, tilt, seed), seed)
				t.Run(fmt.Sprintf("%v, ratio %.1f, tilt %.0f", d, ratio, tilt), func(t *testing.T) {
					o, _ := bench(t, c)
					checkGlass(t, c, o, d, seed, 10)
				})
			}
		}
	}
}

// glassRig is a rig of about that many photo pixels a panel pixel, tilt degrees off the normal.
func glassRig(ratio float64, d simcam.Difficulty, tilt float64, seed uint64) simcam.Rig {
	const degree = math.Pi / 180
	return simcam.Rig{Width: 320, Height: 240, PhotoWidth: 1280, PhotoHeight: 800, Focal: 1000,
		Tilt: tilt * degree, TiltTo: float64(40+70*seed) * degree, Roll: (float64(seed%5) - 2) * degree, Fill: ratio * 1.06 * 240 / 800, OffX: 18, OffY: -6,
		K1: -0.06, K2: 0.01, P1: 0.0004, P2: -0.0003, Gap: 0.15, Gamma: 2.2, BGR: seed%3 == 2, Conditions: d.Conditions()}
}

// A planted fault is one of the glass, and how it must be told.
type planted struct {
	name  string
	at    image.Rectangle
	on    int // card
	c     color.RGBA
	says  string
	pixel bool
}

// plant picks places for faults, apart from each other.
func plant(r *rand.Rand) []planted {
	row, column := 20+r.IntN(90), 20+r.IntN(130)
	pixel := func() image.Rectangle {
		x, y := 170+r.IntN(140), 130+r.IntN(100)
		return image.Rect(x, y, x+1, y+1)
	}
	black, white, red := color.RGBA{A: 255}, color.RGBA{255, 255, 255, 255}, color.RGBA{R: 255, A: 255}
	return []planted{
		{"dead row", image.Rect(0, row, 320, row+1), whiteCard, black, "it stays dark", false},
		{"dead column", image.Rect(column, 0, column+1, 240), whiteCard, black, "it stays dark", false},
		{"dead pixel", pixel(), whiteCard, black, "it stays dark", true},
		{"stuck row", image.Rect(0, row+5, 320, row+6), blackCard, white, "it stays white", false},
		{"red column", image.Rect(column+5, 0, column+6, 240), blackCard, red, "it shines red", false},
		{"stuck pixel", pixel(), blackCard, white, "it stays white", true},
	}
}

// tells reports whether a fault was found where it is, give or take a pixel, and named.
func (f *planted) tells(g *Glass) bool {
	for i, b := range g.Dead {
		if b.Overlaps(f.at.Inset(-1)) && b.In(f.at.Inset(-2)) && b.Dx()*10 > f.at.Dx()*8 && b.Dy()*10 > f.at.Dy()*8 && strings.HasSuffix(g.Says[i], fmt.Sprintf(" on %s: %s", cardNames[f.on], f.says)) {
			return true
		}
	}
	return false
}

func checkGlass(t *testing.T, c *simcam.Camera, o *Optics, d simcam.Difficulty, seed uint64, times int) {
	_, ratio := o.Geometry.Ratio()
	r := rand.New(rand.NewPCG(seed, 5))
	cards := [2]*image.RGBA{clone(CardNamed(320, 240, "black")), clone(CardNamed(320, 240, "white"))}
	quarters := clone(CardNamed(320, 240, "quarters"))
	check := func(white, black image.Image) *Glass {
		t.Helper()
		g, err := o.CheckPixels(c.Photo(white), c.Photo(black))
		if err != nil {
			t.Fatal(err)
		}
		return g
	}
	least, alarms := 1.0, 0
	for range times {
		g := check(cards[whiteCard], cards[blackCard])
		least = min(least, g.Chance)
		says, err := o.CheckCard(quarters, c.Photo(quarters))
		if len(g.Says) > 0 || says != "" || err != nil {
			alarms++
			t.Errorf("a sound panel: %q, %q, %v", g.Says, says, err)
		}
		if told := strings.Contains(strings.Join(g.Untold, " "), "single pixels can't be told with"); told != (ratio < 1.85) {
			t.Errorf("at %.2f photo px a panel px it is said of pixels: %q", ratio, g.Untold)
		}
	}
	// A rig that was bumped since is made good, and is no fault of the glass.
	bumped := simcam.Shot{MoveX: 1.1, MoveY: -0.6}
	g, err := o.CheckPixels(c.Take(cards[whiteCard], bumped), c.Take(cards[blackCard], bumped))
	says, errCard := o.CheckCard(quarters, c.Take(quarters, bumped))
	// Where the rig had moved by itself as well, it may be too much to be made good.
	if !IsNoCapture(err) && (err != nil || errCard != nil || len(g.Says) > 0 || says != "") {
		t.Errorf("a sound panel on a rig that was bumped: %+v, %v; %q, %v", g, err, says, errCard)
	}
	line := fmt.Sprintf("%v, ratio %.2f: %d of %d sound panels at fault, least chance %.2g", d, ratio, alarms, times, least)
	names := map[string][2]int{}
	var order []string
	note := func(name string, found bool) {
		if _, ok := names[name]; !ok {
			order = append(order, name)
		}
		n := names[name]
		if n[1]++; found {
			n[0]++
		}
		names[name] = n
	}
	for range (times + 1) / 2 {
		faults := plant(r)
		shown := [2]*image.RGBA{clone(cards[0]), clone(cards[1])}
		for _, f := range faults {
			fillRect(shown[f.on], f.at, f.c)
		}
		g := check(shown[whiteCard], shown[blackCard])
		for _, f := range faults {
			found := f.tells(g)
			note(f.name, found)
			// Where a pixel leaves less than moiré does, the check itself says so.
			unsure := strings.Contains(strings.Join(g.Untold, " "), "single pixels can't be told for sure")
			if !found && (!f.pixel || ratio >= 2 && d != simcam.Poor && !unsure) {
				t.Errorf("%s at %v: %q", f.name, f.at, g.Says)
			}
			if f.pixel && found && ratio < 1.85 {
				t.Errorf("%s was told at a ratio of %.2f", f.name, ratio)
			}
		}
		x, y := r.IntN(320), r.IntN(240)
		g = check(dimmed(cards[whiteCard], x, y), cards[blackCard])
		found := len(g.Says) == 1 && strings.Contains(g.Says[0], "the light of white is uneven")
		note("uneven light", found)
		if !found {
			t.Errorf("less light around %d,%d: %q", x, y, g.Says)
		}
		some := distortions
		if times == 1 {
			some = some[:3]
		}
		for _, f := range some {
			says, err := o.CheckCard(quarters, c.Photo(f.make(quarters)))
			found := strings.HasPrefix(says, f.says)
			if d == simcam.Poor && strings.HasSuffix(f.says, "px off on the glass") {
				found = strings.HasSuffix(says, "px off on the glass") // by how many is told to within one there
			}
			note(f.name, found)
			if err != nil || !found {
				t.Errorf("%s: %q, %v", f.name, says, err)
			}
		}
	}
	for _, name := range order {
		line += fmt.Sprintf("; %s %d of %d", name, names[name][0], names[name][1])
	}
	t.Log(line)
}

// dimmed is a card with a quarter of its light lost around a point, as where a lamp of the backlight has failed.
func dimmed(m *image.RGBA, x, y int) *image.RGBA {
	out := clone(m)
	for i := 0; i < len(out.Pix); i += 4 {
		dx, dy := float64(i/4%320-x)/70, float64(i/4/320-y)/70
		l := 1 - 0.3*math.Exp(-(dx*dx+dy*dy)/2)
		for c := range 3 {
			out.Pix[i+c] = uint8(math.Round(255 * math.Pow(l, 1/2.2)))
		}
	}
	return out
}

var distortions = []struct {
	name, says string
	make       func(m *image.RGBA) *image.RGBA
}{
	{"colour order", "red and blue are exchanged on the glass", func(m *image.RGBA) *image.RGBA {
		out := clone(m)
		for i := 0; i < len(out.Pix); i += 4 {
			out.Pix[i], out.Pix[i+2] = out.Pix[i+2], out.Pix[i]
		}
		return out
	}},
	{"offset of one", "the picture stands 1,0 px off on the glass", moves(func(x, y int) (int, int) { return x - 1, y })},
	{"rotation", "the picture stands upside down on the glass", moves(func(x, y int) (int, int) { return 319 - x, 239 - y })},
	{"offset", "the picture stands -2,1 px off on the glass", moves(func(x, y int) (int, int) { return x + 2, y - 1 })},
	{"mirror", "left and right are exchanged on the glass", moves(func(x, y int) (int, int) { return 319 - x, y })},
	{"another scale", "the glass shows something else than the dump, such as around", moves(func(x, y int) (int, int) { return x * 3 / 4, y * 3 / 4 })},
}

// moves shows at each place what stands elsewhere; past the border black.
func moves(from func(x, y int) (int, int)) func(m *image.RGBA) *image.RGBA {
	return func(m *image.RGBA) *image.RGBA {
		out := image.NewRGBA(m.Rect)
		for y := range m.Rect.Dy() {
			for x := range m.Rect.Dx() {
				c := color.RGBA{A: 255}
				if i, j := from(x, y); (image.Point{X: i, Y: j}).In(m.Rect) {
					c = m.RGBAAt(i, j)
				}
				out.SetRGBA(x, y, c)
			}
		}
		return out
	}
}

// TestGlassDeclines: what is no fault of the panel ends in a sentence, and is neither a finding nor a sound panel.
func TestGlassDeclines(t *testing.T) {
	c, o := shared()
	x, y := c.Rig.Truth(200, 120)
	ex, ey := c.Rig.Truth(319, 200)
	white, black := CardNamed(320, 240, "white"), CardNamed(320, 240, "black")
	sound := c.Photo(black)
	for _, tt := range []struct {
		name, says string
		white      image.Image
		black      image.Image
	}{
		{"glare on black", "light falls", c.Photo(white), c.Take(black, simcam.Shot{Glare: []simcam.Patch{{X: x, Y: y, Radius: 60, Level: 0.25}}})},
		{"a hand", "stands before", c.Take(white, simcam.Shot{Hand: []simcam.Patch{{X: ex, Y: ey, Radius: 130, Level: 0.02}}}), sound},
		{"bumped far", "camera moved", c.Take(white, simcam.Shot{MoveX: -18, MoveY: 12}), sound},
		{"a panel that is off", "it is dark", sound, sound},
		{"another camera", "another camera", image.NewRGBA(image.Rect(0, 0, 640, 480)), sound},
	} {
		if g, err := o.CheckPixels(tt.white, tt.black); !IsNoCapture(err) || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("%s: %+v, %v; want %q", tt.name, g, err, tt.says)
		}
	}
	old := &Optics{Geometry: o.Geometry}
	if _, err := old.CheckPixels(sound, sound); err == nil || !strings.Contains(err.Error(), "align again") {
		t.Errorf("optics of an earlier version: %v", err)
	}
}

// BenchmarkCheckPixels is two decoded photos to what they say of the glass, and that time over a comparison's of a look.
func BenchmarkCheckPixels(b *testing.B) {
	c, o := wide()
	white, black := c.Photo(CardNamed(320, 240, "white")), c.Photo(CardNamed(320, 240, "black"))
	screen := screens(b)[5]
	look := c.Photo(screen)
	var check, compare time.Duration
	for b.Loop() {
		start := time.Now()
		if _, err := o.CheckPixels(white, black); err != nil {
			b.Fatal(err)
		}
		check += time.Since(start)
		start = time.Now()
		if _, err := o.Compare(screen, look, Options{}); err != nil {
			b.Fatal(err)
		}
		compare += time.Since(start)
	}
	b.ReportMetric(float64(check)/float64(compare), "times-a-look")
}
