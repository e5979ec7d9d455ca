package photo

import (
	"github.com/fascia-bench/fascia/capture/rectify"
)

// A Report is what aligning found, in figures.
type Report struct {
	Fit      rectify.Fit
	HalfTone float64    // root mean square miss of half-tones by the camera's curve, as a share of white
	Clipped  float64    // share of panel pixels of the white photos under which a photo pixel is at full scale
	White    [3]float64 // mean light of a white panel in each channel, as a share of full scale
	Whites   [3][]float64
	Mix      [3][3]float64 // light of each primary (column) in each camera channel (row), as a share of white
	Moves    []rectify.Point
	Tail     gumbel
}

func (r *Report) measure(o *Optics, by map[string][]*rectify.Photo) {}
