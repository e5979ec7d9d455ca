package pairs

import (
	"image/color"
	"math"
)

// part changes one widget of a drawn screen and draws the screen again, or cuts a piece
// out of a picture and changes that.
func (s *Source) part(cause string) (Pair, bool) {
	r := s.rng
	if r.IntN(3) == 0 || s.CutOnly {
		name, m := s.base()
		return s.cutPart(cause, name, m)
	}
	sc := s.layout()
	var can []int
	for i, e := range sc.elems {
		if !e.fixed {
			can = append(can, i)
		}
	}
	if len(can) == 0 {
		return Pair{}, false
	}
	k := can[r.IntN(len(can))]
	golden := *sc
	changed := *sc
	changed.elems = append([]element(nil), sc.elems...)
	e := sc.elems[k]
	d := map[string]any{}
	ok := true
	switch cause {
	case "missing":
		changed.elems = append(changed.elems[:k], sc.elems[k+1:]...)
	case "added":
		golden.elems = append(append([]element(nil), sc.elems[:k]...), sc.elems[k+1:]...)
	case "moved":
		dx, dy := r.IntN(9)-4, r.IntN(9)-4
		if r.IntN(3) == 0 {
			dx, dy = r.IntN(61)-30, r.IntN(31)-15
		}
		if r.IntN(3) == 0 {
			dy = 0
		} else if r.IntN(3) == 0 {
			dx = 0
		}
		d["dx"], d["dy"] = dx, dy
		changed.elems[k].x += dx
		changed.elems[k].y += dy
		ok = (dx != 0 || dy != 0) && sc.free(changed.elems[k], k)
	case "recoloured":
		to := color.RGBA{uint8(r.IntN(256)), uint8(r.IntN(256)), uint8(r.IntN(256)), 255}
		if sc.depth == "mono" {
			return Pair{}, false
		}
		from := e.fg
		if e.kind == "button" {
			from = e.bg
			changed.elems[k].bg = to
		} else {
			changed.elems[k].fg = to
		}
		d["from"], d["to"] = from, to
		// A colour that can hardly be told from the old one or from the ground is no fair case.
		ok = apart(from, to) > 40 && apart(to, sc.top) > 40 && apart(to, sc.bot) > 40
	case "resized":
		ok = s.resize(&changed.elems[k]) && sc.free(changed.elems[k], k)
	case "text":
		if e.kind != "label" && e.kind != "button" {
			return Pair{}, false
		}
		changed.elems[k].text = words[r.IntN(len(words))]
		if r.IntN(2) == 0 { // one or two letters of the word
			b := []rune(e.text)
			for range 1 + r.IntN(2) {
				b[r.IntN(len(b))] = []rune("aeoknrstABEHKR0123456789")[r.IntN(24)]
			}
			changed.elems[k].text = string(b)
		}
	case "edges":
		if sc.depth == "mono" {
			return Pair{}, false
		}
		changed.elems[k].edge = []edge{edgeBold, edgeThin, edgeHard, edgeOffset}[r.IntN(4)]
		if changed.elems[k].edge == edgeOffset && e.kind != "label" && e.kind != "button" {
			return Pair{}, false
		}
	}
	p := Pair{Golden: golden.draw(), Capture: changed.draw(), Part: Fault{cause, d}, Screen: sc.name + " " + e.kind}
	if r.IntN(4) == 0 {
		p.Previous = s.other(p.Golden)
	}
	return p, ok
}

func apart(a, b color.RGBA) float64 {
	return math.Hypot(math.Hypot(float64(a.R)-float64(b.R), float64(a.G)-float64(b.G)), float64(a.B)-float64(b.B))
}

// free reports whether the widget, where it now is, lies on the panel and clear of the
// other widgets (cards may lie under it).
func (sc *screenSpec) free(e element, k int) bool {
	w, h := extent(sc, e)
	if e.x < 0 || e.y < 0 || e.x+w > sc.w || e.y+h > sc.h {
		return false
	}
	for i, o := range sc.elems {
		if i == k || o.fixed {
			continue
		}
		ow, oh := extent(sc, o)
		if e.x < o.x+ow+1 && o.x < e.x+w+1 && e.y < o.y+oh+1 && o.y < e.y+h+1 {
			return false
		}
	}
	return true
}

func extent(sc *screenSpec, e element) (w, h int) {
	if e.kind == "label" {
		return textWidth(sc.fonts, e), e.size * 5 / 4
	}
	return e.w, e.h
}

// resize gives a widget another size, or a bar another value.
func (s *Source) resize(e *element) bool {
	r := s.rng
	f := 0.6 + 0.9*r.Float64()
	if math.Abs(f-1) < 0.12 {
		return false
	}
	switch e.kind {
	case "bar":
		v := 0.1 + 0.85*r.Float64()
		if math.Abs(v-e.value)*float64(e.w) < 3 {
			return false
		}
		e.value = v
	case "label":
		n := int(math.Round(float64(e.size) * f))
		if e.face < 0 || n == e.size || n < 8 {
			return false
		}
		e.size = n
	case "button":
		dw, dh := r.IntN(25)-12, r.IntN(13)-6
		if dw == 0 && dh == 0 {
			return false
		}
		e.w, e.h = e.w+dw, e.h+dh
	case "icon", "gauge":
		n := int(math.Round(float64(min(e.w, e.h)) * f))
		if n < 8 || n == e.w {
			return false
		}
		e.w, e.h = n, n
	case "toggle", "plot", "slider":
		return false
	}
	return true
}
