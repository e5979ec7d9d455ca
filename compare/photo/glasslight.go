package photo

import (
	"fmt"
	"math"
)

// lightX, lightY: the parts of the panel whose light is compared.
const lightX, lightY = 8, 6

// leastUneven is the share of light that is called uneven: less is not told from a lamp that warms up and a camera that
// drifts. Common practice, no source.
const leastUneven = 0.1

// lights gives by how much each part of a white panel is brighter than the usual part, against when the bench was aligned, as a
// share.
func lights(v *sight) []float64 {
	w, h := v.seen.Width, v.seen.Height
	var seen, want [lightX * lightY]float64
	for y := 3; y < h-3; y++ {
		for x := 3; x < w-3; x++ {
			k, i := y*w+x, y*lightY/h*lightX+x*lightX/w
			seen[i] += float64(v.seen.Light[1][k])
			want[i] += float64(v.want[1][k])
		}
	}
	out := make([]float64, len(seen))
	for i := range out {
		out[i] = seen[i] / max(want[i], 1e-9)
	}
	usual := max(median(out), 1e-9)
	for i := range out {
		out[i] = out[i]/usual - 1
	}
	return out
}

// uneven says where white has become uneven since the bench was aligned; nothing if it has not.
func (o *Optics) uneven(v *sight, mask []bool) string {
	w, h := v.seen.Width, v.seen.Height
	var marked [lightX * lightY]int
	for k, m := range mask {
		if m {
			marked[k/w*lightY/h*lightX+k%w*lightX/w]++
		}
	}
	limit := max(leastUneven, 6*o.Pane.Even)
	worst, at := 0.0, 0
	for i, e := range lights(v) {
		if marked[i]*lightX*lightY > w*h/20 { // that is told as an area, or as lines
			continue
		}
		if math.Abs(e) > math.Abs(worst) {
			worst, at = e, i
		}
	}
	if math.Abs(worst) < limit {
		return ""
	}
	x, y := at%lightX*w/lightX+w/lightX/2, at/lightX*h/lightY+h/lightY/2
	than := "less"
	if worst > 0 {
		than = "more"
	}
	return fmt.Sprintf("the light of white is uneven: around %d,%d there is %.0f %% %s of it than when the bench was aligned, against the rest of the panel", x, y, 100*math.Abs(worst), than)
}

// under gives optics for a panel whose light has become uneven since the bench was aligned, as a white photo shows it: else what
// the light does is taken for moiré and for a rig that has moved.
func (o *Optics) under(v *sight) *Optics {
	const wide = 15 // pixels: wider than most moiré, narrower than a lamp's share of a backlight
	w, h := v.seen.Width, v.seen.Height
	q := o.learnt()
	q.leans = o.leans
	for c := range q.Flat {
		seen, want := smooth(v.seen.Light[c], w, h, wide), smooth(v.want[c], w, h, wide)
		q.Flat[c] = make([]float32, w*h)
		for k, f := range o.Flat[c] {
			q.Flat[c][k] = f * max(seen[k]/max(want[k], 1e-6), 0.05)
		}
	}
	q.once.Do(func() { q.derived = o.derived })
	return q
}

// clouds marks what is off over wide areas, as light on the pane is, and a thing before it.
func (o *Optics) clouds(v *sight) []bool {
	const off = 0.05
	w, h := v.seen.Width, v.seen.Height
	mask := make([]bool, w*h)
	for k, e := range smooth(v.left[1], w, h, 4) {
		mask[k] = e > off || e < -off
	}
	return mask
}

// uniformity is the least light of a white panel over the greatest.
func (o *Optics) uniformity(v *sight) float64 {
	w, h := v.seen.Width, v.seen.Height
	light := make([]float32, w*h)
	for k, l := range v.seen.Light[1] {
		light[k] = l*o.Flat[1][k] - o.Dark[1][k]
	}
	lo, hi := math.Inf(1), 0.0
	for _, l := range smooth(light, w, h, 4) {
		lo, hi = min(lo, float64(l)), max(hi, float64(l))
	}
	return max(lo, 0) / max(hi, 1e-9)
}

// fineness says for each pixel whether there are photo pixels enough to tell it from its neighbours.
func (o *Optics) fineness() []bool {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	u, v := o.sampler.U, o.sampler.V
	out := make([]bool, w*h)
	for k := range out {
		// The outermost are as those within.
		x, y := min(k%w, w-2), min(k/w, h-2)
		i := y*w + x
		area := (u[i+1]-u[i])*(v[i+w]-v[i]) - (v[i+1]-v[i])*(u[i+w]-u[i])
		out[k] = max(area, -area) >= aPixelNeeds*aPixelNeeds
	}
	return out
}
