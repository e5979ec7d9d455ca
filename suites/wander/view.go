package wander

import (
	"errors"
	"fmt"
	"image"
	"strings"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites/wander/atlas"
)

// A view is what the panel shows as the updates left it, and what a full redraw shows.
type view struct {
	flushedHash, redrawnHash uint64
	flushed, redrawn         *capture.Frame // nil: not fetched
}

// view asks for both. Of a picture that was seen before the hash is enough: fetching costs ten times as much.
func (w *wanderer) view() (v view, err error) {
	if v.flushedHash, _, err = w.dev.Hash(w.ctx, link.LookOptions{}); err == nil {
		// What a redraw has shown before on this screen is seldom what a missed update left.
		if w.byHash[pictureKey{v.flushedHash, w.name}] != nil && w.rng.IntN(4) > 0 {
			v.redrawnHash = v.flushedHash
			return v, nil
		}
		v.redrawnHash, _, err = w.dev.Hash(w.ctx, link.LookOptions{Redraw: true})
		return v, err
	}
	if !errors.Is(err, link.ErrUnsupported) {
		return v, err
	}
	flushed, err := w.dev.Look(w.ctx, link.LookOptions{})
	if err != nil {
		return v, err
	}
	redrawn, err := w.dev.Look(w.ctx, link.LookOptions{Redraw: true, Known: []*capture.Frame{flushed.Frame}})
	if err != nil {
		return v, err
	}
	if flushed.Redrawn { // nothing is known of what was flushed
		flushed = redrawn
	}
	return view{flushed.Hash, redrawn.Hash, flushed.Frame, redrawn.Frame}, nil
}

// fetch fetches the picture that a full redraw left on the panel.
func (w *wanderer) fetch(v *view) error {
	if v.redrawn != nil {
		return nil
	}
	l, err := w.dev.Look(w.ctx, link.LookOptions{})
	v.redrawn = l.Frame
	return err
}

// stale says what the updates left on the panel that a redraw does not show; "" where that only animates.
func (w *wanderer) stale(v view, back func() error, s *screen) string {
	if err := w.fetch(&v); err != nil {
		return ""
	}
	if v.flushed == nil {
		if back == nil {
			return "a full redraw shows another picture than the updates before it left on the panel"
		}
		if err := back(); err != nil {
			w.err = err
			return ""
		}
		l, err := w.dev.Look(w.ctx, link.LookOptions{Known: []*capture.Frame{v.redrawn}})
		if err != nil {
			return ""
		}
		v.flushed = l.Frame
	}
	if w.onlyMoving(v.flushed, v.redrawn, s) {
		return ""
	}
	res := compare.Flushed(v.flushed.RGBA(), v.redrawn.RGBA(), image.Rectangle{})
	var says []string
	for _, r := range res.Regions {
		says = append(says, r.Says)
	}
	return strings.Join(says, "\n")
}

// onlyMoving reports whether two pictures differ in cells that animate, and nowhere else.
func (w *wanderer) onlyMoving(a, b *capture.Frame, s *screen) bool {
	for _, c := range atlas.Sign(a.RGBA()).Differ(atlas.Sign(b.RGBA())) {
		if !s.still[c] {
			return false
		}
	}
	return true
}

// screenOf finds the screen that a picture is of, or begins a new one.
func (w *wanderer) screenOf(f *capture.Frame) *screen {
	img := f.RGBA()
	s := w.screenFor(atlas.Sign(img))
	if s.img == nil {
		s.img = img
		w.o.Tell(fmt.Sprintf("step %d: screen %s", w.steps, s.id()))
	}
	return s
}

func (w *wanderer) screenFor(sign atlas.Signature) *screen {
	for _, s := range w.screens {
		if s.name != w.name {
			continue
		}
		if s.sign.Alike(sign) || s.name != "" && s.sign.Unlike(sign) <= sameName {
			return s
		}
	}
	s := &screen{number: len(w.screens) + 1, name: w.name, sign: sign, pictures: map[uint64]string{}, still: map[int]bool{}, tried: map[string]int{}, hammered: map[string]bool{}}
	w.screens = append(w.screens, s)
	return s
}

// keep keeps a picture of the screen that differs from those that are kept.
func (s *screen) keep(f *capture.Frame) {
	if len(s.more) == maxMore {
		return
	}
	img := f.RGBA()
	sign := atlas.Sign(img)
	for _, m := range append([]picked{{sign: s.sign}}, s.more...) {
		if m.sign.Unlike(sign) < muchMore {
			return
		}
	}
	s.more = append(s.more, picked{sign, img})
}

// A picked picture is kept to be handed on.
type picked struct {
	sign atlas.Signature
	img  image.Image
}

// named takes what a pattern's * stands for out of a line.
func named(pattern, line string) (string, bool) {
	before, after, ok := strings.Cut(pattern, "*")
	if !ok || !strings.HasPrefix(line, before) || !strings.HasSuffix(line, after) || len(line) < len(before)+len(after) {
		return "", false
	}
	return line[len(before) : len(line)-len(after)], true
}
