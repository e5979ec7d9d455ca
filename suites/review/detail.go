package review

import (
	"fmt"
	"image"
	"net/http"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/record"
)

// detail is what the large view shows of a look.
type detail struct {
	Walk    string           `json:"walk"`
	Look    string           `json:"look"`
	Where   string           `json:"where"`
	Verdict record.Verdict   `json:"verdict"`
	Why     string           `json:"why,omitempty"`
	Way     []string         `json:"way"`
	Before  string           `json:"before,omitempty"` // the look before
	Size    [2]int           `json:"size"`             // of the capture
	Golden  [2]int           `json:"golden"`           // its size; 0, 0: there is none
	Changed int              `json:"changed"`
	SSIM    *float64         `json:"ssim"`
	Causes  []compare.Cause  `json:"causes"`
	Regions []region         `json:"regions"`
	Ignored []record.Ignored `json:"ignored"`
	Problem string           `json:"problem,omitempty"` // why the pictures cannot be shown
}

type region struct {
	compare.Region
	Group string `json:"group"`
	// Eye is the pixel of the region whose colours are furthest apart, where the eyepieces go.
	Eye [2]int `json:"eye"`
}

// loudest finds the pixel of a box that differs most, by the plain distance of the colours.
func loudest(g, c *image.NRGBA, box image.Rectangle) [2]int {
	at, most := [2]int{(box.Min.X + box.Max.X) / 2, (box.Min.Y + box.Max.Y) / 2}, 0
	if box = box.Intersect(g.Rect).Intersect(c.Rect); g.Rect != c.Rect {
		return at
	}
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			a, b := g.NRGBAAt(x, y), c.NRGBAAt(x, y)
			r, gr, bl := int(a.R)-int(b.R), int(a.G)-int(b.G), int(a.B)-int(b.B)
			if d := r*r + gr*gr + bl*bl; d > most {
				at, most = [2]int{x, y}, d
			}
		}
	}
	return at
}

func (s *Server) look(w http.ResponseWriter, r *http.Request) {
	n, ok := s.at(w, r)
	if !ok {
		return
	}
	run := s.desk.Run
	l := run.Looks[n]
	d := detail{Walk: l.Walk, Look: l.Look, Verdict: l.Verdict, Why: l.Why, Way: []string{}, Regions: []region{}, Causes: []compare.Cause{}, Ignored: l.Ignored}
	for _, x := range run.Walks {
		if x.Walk == l.Walk {
			d.Where = fmt.Sprintf("%s:%d", x.File, l.Line)
		}
	}
	for _, in := range l.Path {
		d.Way = append(d.Way, in.Says)
	}
	if n > 0 && run.Looks[n-1].Walk == l.Walk {
		d.Before = run.Looks[n-1].Look
	}
	c, err := s.shelf.get(l.Capture, l.Pixels)
	if err != nil {
		d.Problem = err.Error()
		answer(w, d)
		return
	}
	size := c.Bounds().Size()
	d.Size = [2]int{size.X, size.Y}
	var gp, cp *image.NRGBA
	if l.Golden != "" {
		g, err := s.shelf.get(l.Golden, l.GoldenPixels)
		if err != nil {
			d.Problem = err.Error()
		} else {
			d.Golden = [2]int{g.Bounds().Dx(), g.Bounds().Dy()}
			gp, cp = picture.Pix(g), picture.Pix(c)
		}
	}
	if f := l.Finding; f != nil {
		d.Changed, d.SSIM, d.Causes = f.Changed, f.SSIM, f.Causes
		for _, x := range f.Regions {
			r := region{Region: x, Group: suites.GroupOf(x.Cause, x.Detail), Eye: [2]int{x.X + x.W/2, x.Y + x.H/2}}
			if gp != nil {
				r.Eye = loudest(gp, cp, x.Rect())
			}
			d.Regions = append(d.Regions, r)
		}
	}
	answer(w, d)
}
