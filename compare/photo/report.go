package photo

import (
	"fmt"
	"math"
	"slices"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// A Report is what aligning found, in figures.
type Report struct {
	Fit        rectify.Fit
	HalfTone   float64         // root mean square miss of half-tones by the camera's curve, as a share of white
	Clipped    float64         // share of panel pixels of the white photos under which a photo pixel is at full scale
	White      [3]float64      // mean light of a white panel in each channel, as a share of full scale
	Whites     [3][]float64    // the same of each white photo, in the order they were taken
	Mix        [3][3]float64   // light of each primary (column) in each camera channel (row), as a share of white
	Moves      []rectify.Point // of each card against the grid, photo pixels
	LeastRatio float64         // photo pixels a panel pixel where the panel is smallest
	Ratio      float64         // the same in the mean
	Edge       float64         // an edge's width from 10 % to 90 %, photo pixels, after rectifying
	Tilt       float64         // the panel's scale at its largest over that at its smallest
	Glare      float64         // most light on a black panel, as a share of white, less the least
	Bands      float64         // amplitude of bands, as a share of white; 0: none seen
	Period     float64         // photo rows
	Warming    float64         // last white photo over the first, less one
	Drift      float64         // standard deviation of green's gain from photo to photo
	Minutes    []float64       // when each white photo was taken, since the first; nil where that is not known
	Own        int             // trials that were screens of the device's own
	// From what contrast on, as a share of white, a glyph that has appeared amid content is told, against a dump and
	// against an earlier photo.
	SeesByDump, SeesByPhoto float64
}

// measure fills in what follows from the optics.
func (r *Report) measure(o *Optics) {
	r.LeastRatio, r.Ratio = o.Geometry.Ratio()
	r.Edge = o.edgeSpread() * r.Ratio
	lo, hi := math.Inf(1), 0.0
	g := &o.Geometry
	for _, p := range []rectify.Point{{}, {X: float64(g.Panel[0] - 1)}, {Y: float64(g.Panel[1] - 1)}, {X: float64(g.Panel[0] - 1), Y: float64(g.Panel[1] - 1)}} {
		a, b := g.Jacobian(p)
		s := math.Sqrt(math.Abs(a.X*b.Y - a.Y*b.X))
		lo, hi = min(lo, s), max(hi, s)
	}
	r.Tilt = hi / lo
	var leak []float32
	for k, d := range o.Dark[1] {
		leak = append(leak, d/o.Flat[1][k])
	}
	slices.Sort(leak)
	r.Glare = float64(leak[len(leak)*99/100] - leak[len(leak)/100])
	r.Bands, r.Period = o.Ripple, o.Period
	r.Drift = o.Drift[1]
	if n := len(r.Whites[1]); n > 1 {
		r.Warming = r.Whites[1][n-1]/r.Whites[1][0] - 1
	}
}

// edgeSpread is the width of a vertical edge from 10 % to 90 % of its step, in panel pixels, after ISO
// 12233's idea of an edge: the kernel's columns summed are the line spread, their running sum the edge.
func (o *Optics) edgeSpread() float64 {
	var line [5]float64
	var sum float64
	for j := range 5 {
		for i := range 5 {
			line[i] += float64(o.Kernel[1][5*j+i])
			sum += float64(o.Kernel[1][5*j+i])
		}
	}
	cross := func(level float64) float64 {
		acc := 0.0
		for i := range line {
			next := acc + line[i]/sum
			if next >= level && line[i] > 0 {
				return float64(i) + (level-acc)/(next-acc)
			}
			acc = next
		}
		return 5
	}
	return cross(0.9) - cross(0.1)
}

// Golden is the kind of golden that the bench does better with, "dump" or "photo". A dump is right for every bench
// and for ever, while an earlier photo has to be approved again after each alignment; so a photo has to be clearly better.
func (r *Report) Golden() string {
	if r.SeesByPhoto > 0 && r.SeesByPhoto < 0.75*r.SeesByDump {
		return "photo"
	}
	return "dump"
}

// goldenAdvice gives the reason for Golden.
func (r *Report) goldenAdvice() string {
	figures := fmt.Sprintf("a new glyph amid content is told from a contrast of %.0f %% of white, against an earlier photo from %.0f %%", 100*r.SeesByDump, 100*r.SeesByPhoto)
	if r.Golden() == "photo" {
		return "golden: a photo tells more on this bench: against a dump " + figures + "; write golden: photo"
	}
	return "golden: a dump is the better one on this bench: against it " + figures
}

// Advice says in words what is good and what would make the bench better. The limits are common
// practice, without source, unless said otherwise.
func (r *Report) Advice() (out []string) {
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	say("geometry: %d of %d crossings, %.2f photo px rms (%.2f without a lens model)", r.Fit.Crossings, r.Fit.Possible, r.Fit.Residual, r.Fit.PlainRMS)
	switch {
	case r.LeastRatio < 1.7:
		say("%.1f photo px a panel px: only areas of several pixels can be told, such as a word or an icon; move the camera closer", r.LeastRatio)
	case r.LeastRatio < 2:
		say("%.1f photo px a panel px: words, icons and lines can be told, single pixels can't; move the camera closer", r.LeastRatio)
	default:
		say("%.1f photo px a panel px: enough to tell lines; single pixels if their contrast is high", r.LeastRatio)
	}
	if d := math.Abs(r.Ratio - 2); d < 0.25 {
		say("with close to two photo px a panel px the camera's mosaic beats with the panel's stripes: a little nearer, or a touch out of focus, gives less moiré")
	}
	if r.Fit.Mirrored {
		say("the panel is seen in a mirror")
	}
	if r.Edge > 2.4*r.Ratio {
		say("an edge is %.1f photo px wide, over two panel px: focus better", r.Edge)
	} else {
		say("focus: an edge is %.1f photo px wide", r.Edge)
	}
	if r.Clipped > 0.01 {
		say("white is at full scale on %.0f %% of the panel: expose less, until white is at 70 to 80 %% of the scale", 100*r.Clipped)
	} else if w := max(r.White[0], r.White[1], r.White[2]); w < 0.2 {
		say("white gives only %.0f %% of the camera's light range: expose longer", 100*w)
	}
	if r.Glare > 0.03 {
		say("a reflection adds up to %.0f %% of white on a black panel: shade the panel, or cover what it mirrors", 100*r.Glare)
	}
	if r.Bands > 0 {
		say("bands of %.1f %% every %.0f photo rows: the backlight is pulsed. Choose an exposure of a whole number of its periods, or 100 periods and more, or full brightness; if rows are read at R per second, the pulses come at R/%.0f per second", 100*r.Bands, r.Period, r.Period)
	}
	if r.SeesByDump > 0 {
		say("%s", r.goldenAdvice())
	}
	if r.Own < Trials {
		say("trials: %d of %d were the device's own screens, the others made up, which makes chances rougher; align again once %d screens are approved", r.Own, Trials, Trials)
	}
	if r.Tilt > 1.3 {
		say("the panel is seen %.0f %% larger at one side than at the other: stand closer to its normal", 100*(r.Tilt-1))
	}
	if text := r.warmUp(); text != "" {
		say("%s", text)
	}
	far := 0.0
	for _, m := range r.Moves {
		far = max(far, m.Norm())
	}
	if far > 1.2 {
		say("between photos the rig moved by up to %.1f photo px: fasten panel and camera to one plate", far)
	}
	return out
}
