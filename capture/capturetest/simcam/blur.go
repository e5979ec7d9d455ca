package simcam

import "math"

// A profile is what a blur leaves of a stripe's light, or of a row's, across it: the light falls off evenly over the gap at either
// edge, and Gauss's law is spread over that. It is worked out in full and not at single points: these let the panel's higher harmonics
// through, where a lens lets none, as rings of two per cent of white where they beat slowly.
type profile struct {
	least, perStep float32     // sigmas that there are tables for, in widths of the stripe
	tables         [][]float32 // by sigma and place
	reach          float32     // how far before the stripe's start a table begins
}

const (
	sigmas = 256 // tables of a profile
	places = 128 // of a table, a stripe's width
	cut    = 3.3 // standard deviations, where the blur ends
	widest = 24  // stripes, or rows, that one photo pixel may see
)

// newProfile makes tables for sigmas from least to most.
func newProfile(gap, least, most float64) *profile {
	p := &profile{least: float32(least), perStep: float32((sigmas - 1) / max(most-least, 1e-6)), reach: float32(cut*most) + 0.1}
	p.tables = make([][]float32, sigmas)
	n := int(float64(2*p.reach+1)*places) + 2
	parallel(0, sigmas, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			sigma := least + (most-least)*float64(i)/(sigmas-1)
			// The mean of max(0, t + sigma Z), Z of Gauss's law. A stripe is four such ramps.
			ramp := func(t float64) float64 {
				z := t / sigma
				return t*(1+math.Erf(z/math.Sqrt2))/2 + sigma*math.Exp(-z*z/2)/math.Sqrt(2*math.Pi)
			}
			t := make([]float32, n)
			for j := range t {
				d := float64(j)/places - float64(p.reach)
				t[j] = float32((ramp(d) - ramp(d-gap) - ramp(d-1+gap) + ramp(d-1)) / gap)
			}
			p.tables[i] = t
		}
	})
	return p
}

// weigh fills out with the share that a blur of sigma around at takes from each stripe, from the first on, and says how many
// there are. Stripe i goes from i to i+1.
func (p *profile) weigh(at, sigma float32, out *[widest]float32) (first, n int) {
	t := p.tables[min(sigmas-1, max(0, int((sigma-p.least)*p.perStep+0.5)))]
	first = int(math.Ceil(float64(at - 1 - cut*sigma)))
	last := int(math.Floor(float64(at + cut*sigma)))
	for i := first; i <= last && n < widest; i++ {
		f := (at - float32(i) + p.reach) * places
		j := int(f)
		out[n] = t[j] + (f-float32(j))*(t[j+1]-t[j])
		n++
	}
	return first, n
}
