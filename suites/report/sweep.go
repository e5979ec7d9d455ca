package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"github.com/fascia-bench/fascia/suites/record"
)

// Plot is the picture of a sweep; of other expectations there is none.
func (e expectation) Plot() template.HTML { return sweepPlot(e.Sweep) }

// sweepPlot draws a sweep: the approved curve as a broad band, what was measured as dots on a line.
func sweepPlot(s *record.Sweep) template.HTML {
	const w, h, left, right, top, bottom = 520.0, 220.0, 52.0, 16.0, 14.0, 30.0
	if s == nil || len(s.Points) < 2 {
		return ""
	}
	low, high, most := math.Inf(1), math.Inf(-1), 1e-3
	for _, p := range append(append([][2]float64{}, s.Points...), s.Curve...) {
		low, high, most = min(low, p[0]), max(high, p[0]), max(most, p[1])
	}
	if !(high > low) {
		return ""
	}
	at := func(p [2]float64) (x, y float64) {
		return left + (p[0]-low)/(high-low)*(w-left-right), top + (1-max(0, p[1])/most)*(h-top-bottom)
	}
	line := func(points [][2]float64) string {
		var parts []string
		for _, p := range points {
			x, y := at(p)
			parts = append(parts, fmt.Sprintf("%.1f,%.1f", x, y))
		}
		return strings.Join(parts, " ")
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="sweep" viewBox="0 0 %g %g" width="%g" role="img"><title>Light over the places of %s, by %s</title>`,
		w, h, w, template.HTMLEscapeString(s.Name), template.HTMLEscapeString(s.By))
	for _, v := range []float64{0, most / 2, most} {
		_, y := at([2]float64{low, v})
		fmt.Fprintf(&b, `<line x1="%g" x2="%g" y1="%.1f" y2="%.1f" stroke="#d5d9de"/><text x="%g" y="%.1f" font-size="12" text-anchor="end" fill="#3a4048">%.2f</text>`,
			left, w-right, y, y, left-6, y+4, v)
	}
	fmt.Fprintf(&b, `<text x="%g" y="%g" font-size="12" fill="#3a4048">%g</text><text x="%g" y="%g" font-size="12" text-anchor="middle" fill="#3a4048">%s</text><text x="%g" y="%g" font-size="12" text-anchor="end" fill="#3a4048">%g</text>`,
		left, h-8, low, (left+w-right)/2, h-8, template.HTMLEscapeString(s.Name+"; light as a share of white, by "+s.By), w-right, h-8, high)
	if len(s.Curve) > 1 {
		fmt.Fprintf(&b, `<polyline points="%s" fill="none" stroke="#a9c6e8" stroke-width="10" stroke-linejoin="round"/>`, line(s.Curve))
	}
	fmt.Fprintf(&b, `<polyline points="%s" fill="none" stroke="#b36b00" stroke-width="2"/>`, line(s.Points))
	for _, p := range s.Points {
		x, y := at(p)
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="3.5" fill="#b36b00"/>`, x, y)
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}
