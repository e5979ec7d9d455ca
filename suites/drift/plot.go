package drift

import (
	"encoding/xml"
	"fmt"
	"math"
	"strings"

	"github.com/fascia-bench/fascia/golden"
)

// Measures of a plot, in its own units.
const (
	plotWidth  = 760.0
	plotHeight = 280.0
	plotLeft   = 92.0 // room for the values
	plotRight  = 20.0
	plotTop    = 52.0
	plotBottom = 56.0 // room for the builds
)

const plotStyle = `text{font:12px sans-serif;fill:#3a4048}.name{font-size:15px;font-weight:600;fill:#14181d}` +
	`.band{fill:#f1f3f0}.grid{stroke:#d9dcd7;stroke-width:1}.dot{fill:#2f6f6a}.late{fill:#b1481e}` +
	`.mid{stroke:#2f6f6a;stroke-width:2}.midlate{stroke:#b1481e;stroke-width:2}.at{stroke:#b1481e;stroke-dasharray:4 3}`

// File is the series' file name below the folder of its bench: walk/look-kind.svg, with slashes.
func (s *Series) File() (string, error) {
	if s.Kind == Boot {
		return "boot.svg", nil
	}
	what := map[Kind]string{Settle: "settle", Wire: "bytes", Gauge: "gauge"}[s.Kind]
	parts := []string{s.Walk, s.Look, s.Gauge}
	for i, p := range parts {
		if p == "" {
			continue
		}
		name, err := golden.FileName(p)
		if err != nil {
			return "", fmt.Errorf("name the plot of %s: %w", s.Name(), err)
		}
		parts[i] = name
	}
	if s.Kind == Gauge {
		what += "-" + parts[2]
	}
	return fmt.Sprintf("%s/%s-%s.svg", parts[0], parts[1], what), nil
}

// SVG draws the series: a dot a run, builds as bands, a line at the median of each stretch between
// changes. Its axis holds all values, and starts at zero only where that costs no detail.
func (s *Series) SVG() string {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g" width="%g" height="%g" role="img">`+"\n",
		plotWidth, plotHeight, plotWidth, plotHeight)
	fmt.Fprintf(&b, "<title>%s</title>\n<style>%s</style>\n<rect width=\"100%%\" height=\"100%%\" fill=\"#fff\"/>\n", escape(s.Name()), plotStyle)
	fmt.Fprintf(&b, `<text class="name" x="%g" y="22">%s</text>`+"\n", plotLeft, escape(s.Name()))
	fmt.Fprintf(&b, `<text x="%g" y="40">%s</text>`+"\n", plotLeft, escape(s.caption()))
	s.drawBands(&b)
	low, high, step := s.axis()
	y := func(v float64) float64 {
		return plotTop + (high-v)/(high-low)*(plotHeight-plotTop-plotBottom)
	}
	for i := 0; ; i++ {
		v := low + float64(i)*step
		if v > high+step/2 {
			break
		}
		fmt.Fprintf(&b, `<line class="grid" x1="%g" x2="%g" y1="%.1f" y2="%.1f"/><text x="%g" y="%.1f" text-anchor="end">%s</text>`+"\n",
			plotLeft, plotWidth-plotRight, y(v), y(v), plotLeft-8, y(v)+4, escape(s.tick(v, step)))
	}
	s.drawStretches(&b, y)
	b.WriteString("</svg>\n")
	return b.String()
}

// x is where the i-th run stands.
func (s *Series) x(i float64) float64 {
	return plotLeft + (i+0.5)/float64(len(s.Seen))*(plotWidth-plotLeft-plotRight)
}

// drawBands shades every second build and names each where there is room.
func (s *Series) drawBands(b *strings.Builder) {
	floor := plotHeight - plotBottom
	band, free := 0, 0.0
	for i := 0; i < len(s.Seen); band++ {
		end := i + 1
		for end < len(s.Seen) && s.Seen[end].Build == s.Seen[i].Build {
			end++
		}
		from, to := s.x(float64(i)-0.5), s.x(float64(end)-0.5)
		if band%2 == 0 {
			fmt.Fprintf(b, `<rect class="band" x="%.1f" y="%g" width="%.1f" height="%g"/>`+"\n", from, plotTop, to-from, floor-plotTop)
		}
		name := short(s.Seen[i].Build, 12)
		if wide := float64(len([]rune(name)))*7 + 10; from >= free && from+wide <= plotWidth {
			fmt.Fprintf(b, `<text x="%.1f" y="%g">%s</text>`+"\n", from+2, floor+18, escape(name))
			free = from + wide
		}
		i = end
	}
	fmt.Fprintf(b, `<text x="%g" y="%g">%s</text><text x="%g" y="%g" text-anchor="end">%s</text>`+"\n",
		plotLeft+2, plotHeight-14, s.Seen[0].Started.Format("2006-01-02"),
		plotWidth-plotRight, plotHeight-14, s.Seen[len(s.Seen)-1].Started.Format("2006-01-02"))
}

// drawStretches draws runs and medians; what lies behind a change has the other colour.
func (s *Series) drawStretches(b *strings.Builder, y func(float64) float64) {
	edges := []int{0}
	for _, c := range s.Changes {
		edges = append(edges, c.At)
		at := s.x(float64(c.At) - 0.5)
		fmt.Fprintf(b, `<line class="at" x1="%.1f" x2="%.1f" y1="%g" y2="%g"/>`+"\n", at, at, plotTop, plotHeight-plotBottom)
	}
	edges = append(edges, len(s.Seen))
	for k := range edges[1:] {
		from, to := edges[k], edges[k+1]
		dot, mid := "dot", "mid"
		if k%2 == 1 {
			dot, mid = "late", "midlate"
		}
		level := y(median(s.values(from, to)))
		fmt.Fprintf(b, `<line class="%s" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/>`+"\n", mid,
			s.x(float64(from)-0.4), s.x(float64(to)-0.6), level, level)
		for i := from; i < to; i++ {
			p := s.Seen[i]
			fmt.Fprintf(b, `<circle class="%s" cx="%.1f" cy="%.1f" r="3.2"><title>%s</title></circle>`+"\n", dot, s.x(float64(i)), y(p.Value),
				escape(fmt.Sprintf("%s, build %s: %s", p.Run, p.Build, s.Amount(p.Value))))
		}
	}
}

// caption tells the newest change, or that there is none.
func (s *Series) caption() string {
	if len(s.Changes) == 0 {
		return fmt.Sprintf("%s over %s: no change told from chance", s.Amount(median(s.values(0, len(s.Seen)))), count(len(s.Seen), "run"))
	}
	c := s.Changes[len(s.Changes)-1]
	return fmt.Sprintf("%s, then %s since %s (%s)", s.Amount(c.Before), s.Amount(c.After), short(c.Build, 24), c.much())
}

// axis chooses round values below and above all points.
func (s *Series) axis() (low, high, step float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, p := range s.Seen {
		low, high = math.Min(low, p.Value), math.Max(high, p.Value)
	}
	if low >= 0 && low < high/2 {
		low = 0
	}
	span := high - low
	if span == 0 {
		span = math.Max(math.Abs(high)/5, 1e-3)
	}
	step = math.Pow(10, math.Floor(math.Log10(span/3)))
	for _, m := range []float64{1, 2, 5, 10} {
		if span/(step*m) <= 5 {
			step *= m
			break
		}
	}
	low, high = math.Floor(low/step)*step, math.Ceil(high/step)*step
	if low == high {
		low, high = low-step, high+step
	}
	return low, high, step
}

// tick writes a value of the axis as finely as its steps are.
func (s *Series) tick(v, step float64) string {
	unit := ""
	if s.Kind == Boot || s.Kind == Settle {
		unit, v, step = " ms", v*1000, step*1000
	}
	if step >= 1 {
		return grouped(math.Round(v)) + unit
	}
	return fmt.Sprintf("%.*f%s", int(math.Ceil(-math.Log10(step)-1e-9)), v, unit)
}

func short(text string, most int) string {
	r := []rune(text)
	if len(r) <= most {
		return text
	}
	return string(r[:most-1]) + "…"
}

func escape(text string) string {
	var b strings.Builder
	if err := xml.EscapeText(&b, []byte(text)); err != nil {
		return ""
	}
	return b.String()
}
