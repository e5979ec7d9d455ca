package align

import (
	"context"
	"fmt"
	"image"
	"math"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/compare/photo"
)

// Health is how a bench's camera is doing.
type Health struct {
	Source string     `json:"source"`
	Photo  [2]int     `json:"photo"` // width, height; 0: it gave none
	Ratio  float64    `json:"photo_px_a_panel_px,omitempty"`
	Move   [2]float64 `json:"move,omitempty"`   // against the alignment, photo pixels
	Gain   [3]float64 `json:"gain,omitempty"`   // light of each channel against the alignment
	Chance float64    `json:"chance,omitempty"` // that noise alone looks so
	Advice []string   `json:"advice"`
}

// Check takes a photo and holds it against what the framebuffer says that the panel shows. What is wrong with camera or
// rig is advice, not an error.
func Check(ctx context.Context, c *bench.Camera, shown image.Image) Health {
	h := Health{Source: c.Source, Advice: []string{}}
	say := func(format string, args ...any) { h.Advice = append(h.Advice, fmt.Sprintf(format, args...)) }
	src, err := c.Open()
	if err != nil {
		say("The camera: %v", err)
		return h
	}
	defer src.Close()
	m, err := src.Photo(ctx)
	for _, w := range src.Warnings {
		say("The camera: %s.", w)
	}
	if err != nil {
		say("The camera: %v", err)
		return h
	}
	h.Photo = [2]int{m.Bounds().Dx(), m.Bounds().Dy()}
	o, err := Load(c)
	if err != nil {
		say("The camera: %v", err)
		return h
	}
	_, h.Ratio = o.Geometry.Ratio()
	res, err := o.Compare(shown, m, photo.Options{FalseAlarm: c.FalseAlarm})
	if err != nil {
		say("The camera: %v", err)
		return h
	}
	h.Move, h.Gain, h.Chance = res.Move, res.Gain, res.Chance
	for _, w := range res.Warnings {
		say("The camera: %s.", w)
	}
	for i, g := range res.Gain {
		if math.Abs(g-1) > 0.1 {
			say("The camera: %s is %.0f %% as bright as when the bench was aligned: let panel and camera warm up, or align again.", [3]string{"red", "green", "blue"}[i], 100*g)
		}
	}
	if !res.Same {
		say("The photo is not what the framebuffer says that the panel shows (chance %.2g): clean the pane, look at the glass, or align again.", res.Chance)
	}
	return h
}
