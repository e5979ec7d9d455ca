package review

import (
	"bytes"
	"fmt"
	"html/template"
	"image"
	"net/http"
	"slices"
	"sort"
	"strings"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/record"
)

// page is what the template shows.
type page struct {
	Run, Who, Ledger string
	Device           string
	Verdict          string
	Open             int
	Causes           []cause
	Walks            []walk
}

// A cause has groups, those in most looks first.
type cause struct {
	Name   string
	ID     int
	Looks  int
	Groups []group
}

// A group is what came about in the same way.
type group struct {
	ID       int
	Figures  string // what sets it apart from others of its cause
	From, To string // colours
	Says     string // of one of them
	Regions  int
	Looks    []member
	Look     int // where its specimen is
	Region   int // -1: the whole panel
	Place    string
}

type member struct {
	Look    int
	Name    string
	Regions int
}

type walk struct {
	Name, File, Why, Changed string
	Looks, Open              int
	Frames                   []frame
}

type frame struct {
	Look    int
	Name    string
	Word    string
	CanOpen bool
	Way     []string
	Why     string
	W, H    int
	Pic     bool
	Rings   template.HTMLAttr // the d of a path; made of numbers only
	Label   string
}

func (s *Server) page(w http.ResponseWriter, _ *http.Request) {
	var b bytes.Buffer
	if err := pageTemplate.Execute(&b, s.model()); err != nil {
		refuse(w, http.StatusInternalServerError, err.Error())
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Write(b.Bytes())
}

func (s *Server) model() page {
	run := s.desk.Run
	p := page{Run: run.Run, Who: s.opt.Who, Causes: s.causes}
	var dev []string
	for _, v := range []string{run.Device.Firmware, run.Device.Library, "build " + run.Device.Build, run.Target} {
		if strings.TrimSpace(strings.TrimPrefix(v, "build ")) != "" {
			dev = append(dev, v)
		}
	}
	p.Device = strings.Join(dev, " · ")
	changed := s.desk.WalkChanged()
	at := map[string]int{}
	for _, w := range run.Walks {
		at[w.Walk] = len(p.Walks)
		p.Walks = append(p.Walks, walk{Name: w.Walk, File: w.File, Why: w.Why, Changed: changed[w.Walk]})
	}
	for i, l := range run.Looks {
		k, ok := at[l.Walk]
		if !ok {
			at[l.Walk], k = len(p.Walks), len(p.Walks)
			p.Walks = append(p.Walks, walk{Name: l.Walk})
		}
		x := &p.Walks[k]
		f := frameOf(run, i, l)
		x.Frames = append(x.Frames, f)
		x.Looks++
		if f.CanOpen {
			x.Open++
			p.Open++
		}
	}
	p.Verdict = fmt.Sprintf("%d of %d looks wait for an eye", p.Open, len(run.Looks))
	switch {
	case p.Open == 1:
		p.Verdict = fmt.Sprintf("One of %d looks waits for an eye", len(run.Looks))
	case p.Open == 0:
		p.Verdict = fmt.Sprintf("None of %d looks waits for an eye", len(run.Looks))
	}
	return p
}

func frameOf(run *record.Run, i int, l record.Look) frame {
	f := frame{Look: i, Name: l.Look, Word: string(l.Verdict), CanOpen: suites.Open(l), Why: l.Why, Pic: l.Capture != "" && l.Pixels != ""}
	f.W, f.H = run.Device.Width, run.Device.Height
	for _, in := range l.Path {
		f.Way = append(f.Way, in.Says)
	}
	f.Label = fmt.Sprintf("%s, %s: %s", l.Walk, l.Look, l.Verdict)
	if l.Finding != nil {
		f.W, f.H = l.Finding.Size.Capture[0], l.Finding.Size.Capture[1]
		var d strings.Builder
		for _, r := range l.Finding.Regions {
			fmt.Fprintf(&d, "M%d %dh%dv%dh-%dz", r.X-2, r.Y-2, r.W+4, r.H+4, r.W+4)
		}
		f.Rings = template.HTMLAttr(fmt.Sprintf(`d="%s"`, d.String()))
		f.Label += fmt.Sprintf(", %d regions", len(l.Finding.Regions))
	}
	if f.W <= 0 || f.H <= 0 || f.W > 1<<14 || f.H > 1<<14 {
		f.W, f.H = 320, 240
	}
	return f
}

// causesOf gathers the findings of a run by cause and group. A cause of the whole panel counts where no
// region has one of its own.
func causesOf(run *record.Run) []cause {
	groups := map[string]*group{}
	causeOf := map[string]string{}
	add := func(name string, d compare.Detail, says string, i, region int) {
		id := suites.GroupOf(name, d)
		g := groups[id]
		if g == nil {
			g = &group{Figures: strings.TrimSpace(strings.TrimPrefix(id, name)), Says: says, Look: i, Region: region}
			g.From, _ = d["from"].(string)
			g.To, _ = d["to"].(string)
			if !hexColour(g.From) || !hexColour(g.To) {
				g.From, g.To = "", ""
			}
			groups[id], causeOf[id] = g, name
		}
		if n := len(g.Looks); n == 0 || g.Looks[n-1].Look != i {
			l := run.Looks[i]
			g.Looks = append(g.Looks, member{Look: i, Name: l.Walk + " / " + l.Look})
		}
		if region >= 0 {
			g.Regions++
			g.Looks[len(g.Looks)-1].Regions++
			if best := run.Looks[g.Look].Finding.Regions; g.Region >= 0 && telling(run.Looks[i].Finding.Regions[region]) > telling(best[g.Region]) {
				g.Look, g.Region, g.Says = i, region, says
			}
		}
	}
	for i, l := range run.Looks {
		if l.Finding == nil || !suites.Open(l) {
			continue
		}
		for j, r := range l.Finding.Regions {
			add(r.Cause, r.Detail, r.Says, i, j)
		}
		if len(l.Finding.Regions) == 0 {
			for _, c := range l.Finding.Causes {
				add(c.Cause, c.Detail, c.Says, i, -1)
			}
		}
	}
	var ids []string
	for id, g := range groups {
		ids = append(ids, id)
		if g.Region >= 0 {
			l := run.Looks[g.Look]
			g.Place = fmt.Sprintf("%s / %s, region %d", l.Walk, l.Look, g.Region+1)
		}
	}
	sort.Slice(ids, func(a, b int) bool {
		x, y := groups[ids[a]], groups[ids[b]]
		if len(x.Looks) != len(y.Looks) {
			return len(x.Looks) > len(y.Looks)
		}
		return ids[a] < ids[b]
	})
	var out []cause
	for n, id := range ids {
		groups[id].ID = n
		name := causeOf[id]
		k := slices.IndexFunc(out, func(c cause) bool { return c.Name == name })
		if k < 0 {
			k = len(out)
			out = append(out, cause{Name: name, ID: k})
		}
		out[k].Groups = append(out[k].Groups, *groups[id])
	}
	for k := range out {
		looks := map[int]bool{}
		for _, g := range out[k].Groups {
			for _, m := range g.Looks {
				looks[m.Look] = true
			}
		}
		out[k].Looks = len(looks)
	}
	return out
}

// telling says how well a region serves as a specimen: large, but not larger than can be shown.
func telling(r compare.Region) int { return min(r.W, 90) * min(r.H, 55) }

func hexColour(s string) bool {
	if len(s) != 7 || s[0] != '#' {
		return false
	}
	return strings.Trim(s[1:], "0123456789abcdef") == ""
}

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
