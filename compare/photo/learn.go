package photo

import (
	"fmt"
	"image"
	"math"
	"sort"
	"strings"

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
	var shown, tried []*screen
	var cardShots, trialShots []*rectify.Photo
	for i, p := range ps {
		if photos[i] == nil {
			return nil, rep, fmt.Errorf("pattern %s has no photo", p.Name)
		}
		shot[i] = rectify.NewPhoto(photos[i])
		if shot[i].Width != shot[0].Width || shot[i].Height != shot[0].Height {
			return nil, rep, fmt.Errorf("the photo of %s is %dx%d, that of %s %dx%d: take all with the same setting",
				p.Name, shot[i].Width, shot[i].Height, ps[0].Name, shot[0].Width, shot[0].Height)
		}
		kind := strings.Split(p.Name, "-")[1]
		by[kind] = append(by[kind], shot[i])
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
	for i, p := range ps {
		switch {
		case strings.Contains(p.Name, "-card-"):
			shown, cardShots = append(shown, o.screenOf(p.Image)), append(cardShots, shot[i])
		case strings.Contains(p.Name, "-trial-"):
			if p.Own {
				rep.Own++
			}
			tried, trialShots = append(tried, o.screenOf(p.Image)), append(trialShots, shot[i])
		}
	}
	views, err := o.learnKernel(shown, cardShots, &rep)
	if err != nil {
		return nil, rep, err
	}
	trialViews, err := o.learnThreshold(shown, views, tried, trialShots, rep.Own)
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
