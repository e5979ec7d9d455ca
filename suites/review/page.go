package review

import (
	"bytes"
	"fmt"
	"html/template"
	"net/http"
	"strings"

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
