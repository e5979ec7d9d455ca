package photo

import (
	"image"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// A stood photo is one that has been found, and what it is judged by: the best window's rank, and where it is.
type stood struct {
	o    *Optics // for photos that lean as this one does
	v    *sight
	rank float64
	at   image.Rectangle
}

func (l *stood) chance() float64 { return l.o.Tail.chance(l.rank) }

// judge sums a sight up over all windows.
func (o *Optics) judge(v *sight, skip []bool) stood {
	o.edges(v, v.seen.Width, v.seen.Height)
	o.whiten(v, &v.white)
	v.sums.total(&v.white, skip, v.seen.Width, v.seen.Height)
	rank, at := o.best(&v.sums)
	return stood{o, v, rank, at}
}

// stand finds where a photo stands. One that would alarm is looked at again as other places have it, before the screen is thought
// to differ: it may lean, and moiré may have held it where it does not stand.
func (o *Optics) stand(p *rectify.Photo, s *screen, skip []bool, opt Options) (stood, error) {
	v, ok := o.look(p, s, rectify.Point{})
	if !ok {
		defer o.done(v)
		if o.dark(v) {
			return stood{}, errDark()
		}
		return stood{}, noCapture("the panel is not where the bench was aligned: the camera moved; run fascia bench align")
	}
	if v.Move.Norm() > opt.Moved {
		if still := o.staying(p, s, v); still != nil {
			v = still
		}
	}
	if err := o.usable(p, s, v, opt); err != nil {
		return stood{}, err
	}
	l := o.judge(v, skip)
	if l.chance() < opt.FalseAlarm {
		if q, u := o.upright(p, s, v, false); u != v && explained(v.strain(), u.strain()) {
			o.done(v)
			l = q.judge(u, skip)
		}
	}
	if l.chance() < opt.FalseAlarm && !o.repeats {
		was := l.v.Move // of a screen with much even area, moiré may fit nearly as well half a pixel off
		if l.v = l.o.better(p, s, l.v); l.v.Move != was {
			l = l.o.judge(l.v, skip)
		}
	}
	far := l.o.pivot.farthest(l.v.Move, l.o.leans)
	if far <= opt.Moved {
		return l, nil
	}
	if l.o == o { // else it is a lean, which explains most
		if still := o.staying(p, s, l.v); still != nil {
			return o.judge(still, skip), nil
		}
	}
	return stood{}, errMoved(far)
}
