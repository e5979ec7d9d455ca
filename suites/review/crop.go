package review

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"net/http"
	"strconv"

	"github.com/disintegration/imaging"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare"
)

// crop serves a region with some of what is around it, enlarged by whole numbers.
func (s *Server) crop(w http.ResponseWriter, r *http.Request) {
	n, ok := s.at(w, r)
	if !ok {
		return
	}
	l := s.desk.Run.Looks[n]
	i, err := strconv.Atoi(r.PathValue("region"))
	if err != nil || l.Finding == nil || i < 0 || i >= len(l.Finding.Regions) {
		refuse(w, http.StatusNotFound, "the look has no such region")
		return
	}
	g, c, err := s.shelf.pair(l)
	if err != nil {
		refuse(w, http.StatusConflict, err.Error())
		return
	}
	from := c
	if r.PathValue("kind") == "golden" {
		from = g
	}
	box := around(l.Finding.Regions[i].Rect(), image.Rectangle{Max: c.Bounds().Size()})
	part := imaging.Crop(picture.Pix(from), box)
	k := max(1, cropSide/max(box.Dx(), box.Dy()))
	s.send(w, imaging.Resize(part, box.Dx()*k, box.Dy()*k, imaging.NearestNeighbor), nil)
}

// around widens a region to a shape that shows where it is.
func around(r, panel image.Rectangle) image.Rectangle {
	r = r.Inset(-5)
	if d := 40 - r.Dx(); d > 0 {
		r.Min.X, r.Max.X = r.Min.X-d/2, r.Max.X+d-d/2
	}
	if d := 26 - r.Dy(); d > 0 {
		r.Min.Y, r.Max.Y = r.Min.Y-d/2, r.Max.Y+d-d/2
	}
	if r.Dx() > 100 { // of what is long, its beginning
		r.Max.X = r.Min.X + 100
	}
	if r.Dy() > 65 {
		r.Max.Y = r.Min.Y + 65
	}
	shift := func(low, high, from, to int) int { return max(from-low, 0) + min(to-high, 0) }
	r = r.Add(image.Pt(shift(r.Min.X, r.Max.X, panel.Min.X, panel.Max.X), shift(r.Min.Y, r.Max.Y, panel.Min.Y, panel.Max.Y)))
	return r.Intersect(panel)
}

// relief draws a map of scores as land seen from above, lit from the upper left: plains are where golden
// and capture agree, and the lower a window's score, the higher its hill. Slopes show by light and
// height by tint, so it reads without colours, too. The golden is faintly printed on it.
func relief(m *image.Gray, golden *image.NRGBA) image.Image {
	size := m.Rect.Size()
	out := image.NewNRGBA(m.Rect)
	height := func(x, y int) float64 {
		x, y = min(max(x, 0), size.X-1), min(max(y, 0), size.Y-1)
		return 1 - float64(m.GrayAt(x, y).Y)/255
	}
	low, high := [3]float64{206, 212, 210}, [3]float64{224, 132, 30}
	for y := range size.Y {
		for x := range size.X {
			const steep = 7 // px of height of the highest hill
			dx, dy := steep*(height(x+1, y)-height(x-1, y))/2, steep*(height(x, y+1)-height(x, y-1))/2
			// Lambert's law: light by the cosine between the slope's normal and the light, from (-1, -1, 1.4).
			light := (dx + dy + 1.4) / math.Sqrt(dx*dx+dy*dy+1) / math.Sqrt(1+1+1.4*1.4)
			flat := 1.4 / math.Sqrt(1+1+1.4*1.4)
			shade := 1 + 1.1*(light-flat)
			under := golden.NRGBAAt(x, y)
			shade *= 0.86 + 0.14*(0.299*float64(under.R)+0.587*float64(under.G)+0.114*float64(under.B))/255
			h := math.Sqrt(height(x, y))
			var c [3]uint8
			for i := range c {
				c[i] = uint8(min(max((low[i]+(high[i]-low[i])*h)*shade, 0), 255))
			}
			out.SetNRGBA(x, y, color.NRGBA{c[0], c[1], c[2], 255})
		}
	}
	return out
}

// probe tells both colours at a pixel and how far they are apart.
func (s *Server) probe(w http.ResponseWriter, r *http.Request) {
	n, ok := s.at(w, r)
	if !ok {
		return
	}
	x, err1 := strconv.Atoi(r.URL.Query().Get("x"))
	y, err2 := strconv.Atoi(r.URL.Query().Get("y"))
	l := s.desk.Run.Looks[n]
	g, c, err := s.shelf.pair(l)
	if err == errNoGolden {
		c, err = s.shelf.get(l.Capture, l.Pixels)
		g = c
	}
	if err != nil {
		refuse(w, http.StatusConflict, err.Error())
		return
	}
	gp, cp := picture.Pix(g), picture.Pix(c)
	p := image.Pt(x, y)
	if err1 != nil || err2 != nil || !p.In(gp.Rect) || !p.In(cp.Rect) {
		refuse(w, http.StatusNotFound, "there is no such pixel in both pictures")
		return
	}
	a, b := gp.NRGBAAt(x, y), cp.NRGBAAt(x, y)
	answer(w, map[string]any{"golden": hexOf(a), "capture": hexOf(b), "de": compare.ColourDifference(compare.LabOf(a), compare.LabOf(b))})
}

func hexOf(c color.NRGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }
