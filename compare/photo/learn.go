package photo

import (
	"fmt"
	"image"
	"math"
	"sort"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// Learn works out geometry and optics from one photo of each of a panel's Patterns, in their order.
// An error names the pattern whose photo is of no use.
func Learn(ps []Pattern, photos []image.Image) (*Optics, Report, error) {
	rep := Report{}
	if len(photos) != len(ps) || len(ps) == 0 {
		return nil, rep, fmt.Errorf("%d photos for %d patterns: one photo of each is needed", len(photos), len(ps))
	}
	panel := ps[0].Image.Bounds()
	width, height := panel.Dx(), panel.Dy()
	shot := make([]*rectify.Photo, len(ps))
	by := map[string][]*rectify.Photo{} // kind of pattern -> photos
	for i, p := range ps {
		if photos[i] == nil {
			return nil, rep, fmt.Errorf("pattern %s has no photo", p.Name)
		}
		shot[i] = rectify.NewPhoto(photos[i])
		if shot[i].Width != shot[0].Width || shot[i].Height != shot[0].Height {
			return nil, rep, fmt.Errorf("the photo of %s is %dx%d, that of %s %dx%d: take all with the same setting",
				p.Name, shot[i].Width, shot[i].Height, ps[0].Name, shot[0].Width, shot[0].Height)
		}
		by[p.Kind()] = append(by[p.Kind()], shot[i])
	}
	for _, need := range []struct {
		kind string
		n    int
	}{{"white", 1}, {"black", 1}, {"quarters", 1}, {"grid", 2}, {"tones", 1}, {"card", cards}, {"trial", Trials}, {"again", shownAgain}} {
		if len(by[need.kind]) < need.n {
			return nil, rep, fmt.Errorf("%d patterns of kind %s where there are %d: these are not a panel's Patterns", len(by[need.kind]), need.kind, need.n)
		}
	}
	g, fit, err := rectify.Locate(width, height, rectify.Views{White: by["white"][0], Black: by["black"][0], Quarters: by["quarters"][0], Grids: by["grid"]})
	if err != nil {
		return nil, rep, err
	}
	rep.Fit = fit
	o := &Optics{Geometry: *g}
	if err := o.learnTones(by, &rep); err != nil {
		return nil, rep, err
	}
	var shown, tried []*screen
	for _, p := range ps {
		if p.Kind() == "card" {
			shown = append(shown, o.screenOf(p.Image))
		}
	}
	views, err := o.learnKernel(shown, by["card"], &rep)
	if err != nil {
		return nil, rep, err
	}
	for _, p := range ps { // with the tones that cards have corrected
		if p.Kind() == "trial" {
			tried = append(tried, o.screenOf(p.Image))
			if p.Own {
				rep.Own++
			}
		}
	}
	trialViews, err := o.learnThreshold(shown, views, tried, by["trial"], rep.Own)
	if err != nil {
		return nil, rep, err
	}
	again, err := o.learnRepeat(trialViews[:shownAgain], by["again"], rep.Own)
	if err != nil {
		return nil, rep, err
	}
	rep.SeesByDump, rep.SeesByPhoto = o.leastSeen(trialViews), o.twice().leastSeen(again)
	o.learnPane(by["white"], by["black"], rep.Moves)
	rep.measure(o)
	return o, rep, nil
}

func median(v []float64) float64 {
	s := append([]float64(nil), v...)
	sort.Float64s(s)
	return s[len(s)/2]
}

// rounds of learning: each starts from a better flat field and better movements than the one before.
// The kernels are fitted in the first of them, the overtones to what these leave over in the others.
const rounds, kernelRounds = 5, 2

// learnKernel learns point spread, mixing, moiré and noise from the cards.
func (o *Optics) learnKernel(shown []*screen, shots []*rectify.Photo, rep *Report) ([]*sight, error) {
	var views []*sight
	for round := range rounds {
		views = views[:0]
		for i, p := range shots {
			v, ok := o.look(p, shown[i], rectify.Point{})
			if !ok || v.Move.Norm() > 6 {
				return nil, fmt.Errorf("the photo of card %d does not fit the geometry: has the camera moved, or are photos out of order?", i+1)
			}
			views = append(views, v)
		}
		if round == rounds-1 {
			break
		}
		switch {
		case round < kernelRounds:
			if err := o.regress(shown, views, round == 0); err != nil {
				return nil, err
			}
		case round == kernelRounds:
			o.pickOvertones(shown, views)
			fallthrough
		default:
			o.tune(shown, views)
		}
		o.fitNoise(shown, views)
		if round == 0 {
			o.findRipple(views)
		}
		if round > 0 { // before, much else is amiss
			o.exposeBlack(views)
			o.retone(shown, views)
		}
		o.flatten(views)
		o.straighten(views)
	}
	o.fitNoise(shown, views)
	for c := range 3 {
		var m, q float64
		n := float64(len(views))
		for _, v := range views {
			m, q = m+v.Gain[c]/n, q+v.Gain[c]*v.Gain[c]/n
		}
		o.Drift[c] = math.Sqrt(max(0, q-m*m))
	}
	for _, v := range views {
		rep.Moves = append(rep.Moves, v.Move)
	}
	return views, nil
}

// learnThreshold tries the predictions on screens that nothing was fitted to; the first of them are the device's own.
func (o *Optics) learnThreshold(known []*screen, cards []*sight, shown []*screen, shots []*rectify.Photo, own int) ([]*sight, error) {
	var views []*sight
	for i, p := range shots {
		v, ok := o.look(p, shown[i], rectify.Point{})
		if !ok || v.Move.Norm() > 6 {
			return nil, fmt.Errorf("the photo of trial %d does not fit the geometry: has the camera moved, or are photos out of order?", i+1)
		}
		views = append(views, v)
	}
	o.fitNoise(append(append([]*screen(nil), known...), shown...), append(append([]*sight(nil), cards...), views...))
	for i, v := range cards {
		o.variances(known[i], v)
	}
	for i, v := range views {
		o.variances(shown[i], v)
	}
	o.learnWindows(cards, views, own)
	return views, nil
}
