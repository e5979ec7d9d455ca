package wander

import (
	"fmt"
	"image"
	"slices"
	"strings"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites/wander/atlas"
)

// title is what a screen is called in names of files.
func (s *screen) title() string {
	if s.name != "" {
		if file, err := golden.FileName(s.name); err == nil {
			return s.id() + "-" + file
		}
	}
	return s.id()
}

// walkText writes a walk.
func (w *wanderer) walkText(f Finding, s *screen, steps []string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# Found by fascia wander, seed %d, on %s, %s, build %s.\n", w.o.Seed, w.h.Firmware, w.h.Library, w.h.Build)
	for line := range strings.Lines(f.Says) {
		fmt.Fprintf(&b, "# %s\n", strings.TrimSpace(line))
	}
	fmt.Fprintf(&b, "walk: wander %s %s\nsteps:\n", f.Kind, strings.ReplaceAll(s.title(), "-", " "))
	for _, step := range slices.Concat(w.setup(), steps) {
		fmt.Fprintf(&b, "  - %s\n", step)
	}
	return b.String()
}

func (w *wanderer) result() *Result {
	r := &Result{Findings: w.findings, Steps: w.steps, Replayed: w.replayed, Pictures: map[string]image.Image{}}
	m := &r.Map
	*m = atlas.Map{Wander: atlas.Version, Seed: w.o.Seed, Steps: w.steps, Device: w.h.Device, Build: w.h.Build, Firmware: w.h.Firmware,
		Library: w.h.Library, Panel: atlas.Panel{Width: w.h.Width, Height: w.h.Height, Format: w.h.Format.String()},
		Screens: []atlas.Screen{}, Ways: []atlas.Way{}, Findings: []atlas.Finding{}}
	for _, s := range w.screens {
		if s.img == nil {
			continue
		}
		e := atlas.Screen{Screen: s.id(), Picture: s.id() + ".png", Pixels: picture.Hash(s.img), Name: s.name, Seen: s.seen,
			Pictures: len(s.pictures), Targets: s.targets, Road: []string{}}
		for _, h := range s.pictures {
			if h != "" && h != e.Pixels {
				e.Others = append(e.Others, h)
			}
		}
		slices.Sort(e.Others)
		for _, a := range s.road {
			e.Road = append(e.Road, a.says())
		}
		r.Pictures[e.Picture] = s.img
		for i, p := range s.more {
			e.More = append(e.More, fmt.Sprintf("%s-%d.png", e.Screen, i+2))
			r.Pictures[e.More[i]] = p.img
		}
		m.Screens = append(m.Screens, e)
	}
	for k, n := range w.ways {
		m.Ways = append(m.Ways, atlas.Way{From: k[0], By: k[1], To: k[2], Times: n})
	}
	slices.SortFunc(m.Ways, func(a, b atlas.Way) int {
		return strings.Compare(a.From+" "+a.By+" "+a.To, b.From+" "+b.By+" "+b.To)
	})
	for _, f := range w.findings {
		m.Findings = append(m.Findings, f.Finding)
	}
	return r
}

func sorted(set map[string]bool) []string {
	var out []string
	for k := range set {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

func firstLine(s string) string {
	line, _, _ := strings.Cut(s, "\n")
	return line
}
