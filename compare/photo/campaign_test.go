package photo

import (
	"cmp"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"strconv"
	"sync"
	"testing"

	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
)

// TestCampaign counts false alarms and detections on simulated rigs. The whole of it, FASCIA_LONG=1, takes
// 40 rigs a difficulty, 50 unchanged photos a rig, that is 2,000 a difficulty, and 3 of each fault
// a rig; the sample has one rig. Each difficulty is a test of its own, so that the whole can be run in parts:
//
//	FASCIA_LONG=1 go test -timeout 0 -v -run TestCampaign/fair ./compare/photo
//
// The whole's rigs are of seeds 2000 to 2039; FASCIA_RIGS=3000 takes others, which nobody has looked at.
//
// They are aligned as a bench is that has goldens: half of the screens that are looked at are trials, the others
// are not, and the two are counted apart. FASCIA_TRIALS=made-up aligns them as a bench without goldens. The sample's rig is such
// a one.
//
// Beside each detection stands that of a threshold on the lowest local SSIM of the same photos, set so low that it gives
// no false alarm among the rig's unchanged photos; and beside both how well chance and lowest SSIM put the rig's changed photos
// before its unchanged ones (the area under the curve of detections against false alarms).
//
// The chances that are given are tested too: set to one in 20 and one in 100, as many photos alarm as the binomial law
// of that chance has it, neither more nor fewer. That is so of screens that were no trials; of trials the bench knows how far they
// stray where, and fewer alarm.
func TestCampaign(t *testing.T) {
	t.Parallel() // its one rig and the next test's keep a core each
	size := campaign{rigs: 1, still: 8, each: 1}
	levels := []simcam.Difficulty{simcam.Fair}
	if os.Getenv("FASCIA_LONG") != "" {
		size, levels = campaign{rigs: 40, still: 50, each: 3}, simcam.Difficulties
	}
	for _, d := range levels {
		t.Run(d.String(), func(t *testing.T) { size.run(t, d) })
	}
}

// A campaign's size: rigs, and photos of a rig that are unchanged, and that show each fault.
type campaign struct{ rigs, still, each int }

func (q campaign) run(t *testing.T, d simcam.Difficulty) {
	all := screens(t)
	var own []image.Image
	for i := 0; i < len(all) && len(own) < Trials && os.Getenv("FASCIA_TRIALS") != "made-up"; i += 2 {
		own = append(own, all[i])
	}
	seed, err := strconv.ParseUint(cmp.Or(os.Getenv("FASCIA_RIGS"), "2000"), 10, 64)
	if err != nil {
		t.Fatal("FASCIA_RIGS: ", err)
	}
	rigs := make([]counts, q.rigs)
	// Rigs are looked through side by side, one a processor, and told in order.
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	var wg sync.WaitGroup
	for i := range rigs {
		free <- struct{}{}
		wg.Go(func() {
			defer func() { <-free }()
			if q.rigs == 1 {
				c, o := shared()
				rigs[i].rig(o, c, d, uint64(i), all, 0, q)
				return
			}
			c := simcam.New(simcam.Random(seed+uint64(i), d, 320, 240), uint64(i))
			o, _, err := learn(c, own...)
			if err != nil {
				rigs[i] = newCounts()
				rigs[i].wrong = append(rigs[i].wrong, fmt.Sprintf("%v rig %d, %v: %v", d, i, c.Rig, err))
				return
			}
			rigs[i].rig(o, c, d, uint64(i), all, len(own), q)
		})
	}
	wg.Wait()
	n := newCounts()
	for i := range rigs {
		n.add(&rigs[i])
		for _, line := range rigs[i].notes {
			t.Log(line)
		}
		for _, line := range rigs[i].wrong {
			t.Error(line)
		}
	}
	_, above := interval(n.alarms, n.photos, 0.95)
	t.Logf("%v: %d false alarms in %d photos, so below %.2g with 95 %% confidence", d, n.alarms, n.photos, above)
	if n.alarms > 0 {
		t.Errorf("%v: %d false alarms in %d photos", d, n.alarms, n.photos)
	}
	for i, rate := range rates {
		few, many := within(n.others, rate, 0.99)
		t.Logf("%v: set to 1 in %.0f, %d of %d photos of screens that were no trials alarm, %d of %d of those that were; of the former the binomial law has %d to %d in 99 of 100 campaigns",
			d, 1/rate, n.othersBelow[i], n.others, n.below[i]-n.othersBelow[i], n.photos-n.others, few, many)
		if n.othersBelow[i] < few || n.othersBelow[i] > many {
			t.Errorf("%v: set to 1 in %.0f, %d of %d photos alarm, which is not between %d and %d", d, 1/rate, n.othersBelow[i], n.others, few, many)
		}
	}
	t.Logf("%v: %-20s %12s %12s %8s %8s", d, "found", "by chance", "lowest SSIM", "area", "of SSIM")
	for _, f := range faults {
		k := n.kinds[f.name]
		t.Logf("%v: %-20s %5d of %3d %12d %8.3f %8.3f", d, f.name, k.found, k.shown, k.plain, k.area/float64(len(rigs)), k.plainArea/float64(len(rigs)))
	}
}

// rates are those that calibration is tested at.
var rates = [2]float64{0.05, 0.01}

type kind struct {
	found, plain, shown int
	area, plainArea     float64 // summed over rigs
}

type counts struct {
	photos, alarms int
	below          [len(rates)]int
	others         int // photos of screens that were no trials
	othersBelow    [len(rates)]int
	kinds          map[string]*kind
	notes, wrong   []string
}

func newCounts() counts {
	n := counts{kinds: map[string]*kind{}}
	for _, f := range faults {
		n.kinds[f.name] = new(kind)
	}
	return n
}

func (n *counts) add(m *counts) {
	n.photos, n.alarms, n.others = n.photos+m.photos, n.alarms+m.alarms, n.others+m.others
	for i := range n.below {
		n.below[i] += m.below[i]
		n.othersBelow[i] += m.othersBelow[i]
	}
	for name, k := range m.kinds {
		to := n.kinds[name]
		to.found, to.plain, to.shown = to.found+k.found, to.plain+k.plain, to.shown+k.shown
		to.area, to.plainArea = to.area+k.area, to.plainArea+k.plainArea
	}
}

// rig takes and judges one rig's photos. Of all screens every second one was a trial, until there were so many.
func (n *counts) rig(o *Optics, c *simcam.Camera, d simcam.Difficulty, seed uint64, all []image.Image, trials int, q campaign) {
	*n = newCounts()
	wrong := func(format string, args ...any) {
		n.wrong = append(n.wrong, fmt.Sprintf("%v rig %d: ", d, seed)+fmt.Sprintf(format, args...))
	}
	least, ratio := o.Geometry.Ratio()
	r := rand.New(rand.NewPCG(seed, uint64(d)))
	var chances, ssims []float64 // of unchanged photos
	for i := range q.still {
		which := (int(seed) + i) % len(all)
		m := all[which]
		res, err := o.Compare(m, c.Photo(m), Options{})
		n.photos++
		other := which%2 == 1 || which/2 >= trials
		if other {
			n.others++
		}
		if err != nil {
			wrong("photo %d: %v", i, err)
			continue
		}
		if !res.Same {
			n.alarms++
			wrong("photo %d: false alarm, chance %.2g at %v", i, res.Chance, res.At)
		}
		for j, rate := range rates {
			if res.Chance < rate {
				n.below[j]++
				if other {
					n.othersBelow[j]++
				}
			}
		}
		chances, ssims = append(chances, res.Chance), append(ssims, *res.SSIMMin)
	}
	for _, f := range faults {
		k := n.kinds[f.name]
		var changed, changedSSIM []float64
		for range q.each {
			g, s := f.make(r, clone(all[r.IntN(len(all))]))
			res, err := o.Compare(g, c.Photo(s), Options{})
			if err != nil {
				wrong("%s: %v", f.name, err)
				continue
			}
			k.shown++
			if !res.Same {
				k.found++
			} else if (f.name == "changed word" || f.name == "missing icon") && d != simcam.Poor && least >= 1.7 {
				wrong("a %s was missed, chance %.2g", f.name, res.Chance)
			}
			if *res.SSIMMin < lowest(ssims) {
				k.plain++
			}
			changed, changedSSIM = append(changed, res.Chance), append(changedSSIM, *res.SSIMMin)
		}
		k.area, k.plainArea = area(changed, chances), area(changedSSIM, ssims)
	}
	n.notes = append(n.notes, fmt.Sprintf("%v rig %d, %v, ratio %.2f, least %.2f: of %d below 1/20 %d, below 1/100 %d, least chance %.2g", d, seed, c.Rig, ratio, least,
		n.photos, n.below[0], n.below[1], lowest(chances)))
}

func lowest(v []float64) float64 {
	low := math.Inf(1)
	for _, x := range v {
		low = min(low, x)
	}
	return low
}

// area is the share of pairs in which a changed photo's figure is lower than an unchanged one's.
func area(changed, still []float64) float64 {
	var n float64
	for _, a := range changed {
		for _, b := range still {
			switch {
			case a < b:
				n++
			case a == b:
				n += 0.5
			}
		}
	}
	return n / float64(max(1, len(changed)*len(still)))
}

// binomial gives the chance of at most k successes of n at rate p.
func binomial(k, n int, p float64) float64 {
	prob, sum := math.Pow(1-p, float64(n)), 0.0
	for i := 0; i <= k; i++ {
		sum += prob
		prob *= float64(n-i) / float64(i+1) * p / (1 - p)
	}
	return sum
}

// within gives the successes of n at rate p that all but a share of campaigns have, with as little beyond either end.
func within(n int, p, share float64) (few, many int) {
	tail := (1 - share) / 2
	for binomial(few, n, p) < tail {
		few++
	}
	for many = few; binomial(many, n, p) < 1-tail; {
		many++
	}
	return few, many
}

// interval gives the rates at which k successes of n are no surprise: Clopper and Pearson's bounds (1934), each of them
// held with the confidence.
func interval(k, n int, confidence float64) (low, high float64) {
	find := func(more func(p float64) bool) float64 {
		lo, hi := 0.0, 1.0
		for range 60 {
			if mid := (lo + hi) / 2; more(mid) {
				lo = mid
			} else {
				hi = mid
			}
		}
		return lo
	}
	if k > 0 {
		low = find(func(p float64) bool { return 1-binomial(k-1, n, p) < 1-confidence })
	}
	if k == n {
		return low, 1
	}
	return low, find(func(p float64) bool { return binomial(k, n, p) > 1-confidence })
}

// TestBinomialBounds holds the campaign's statistics against known ones: none in 2,000 bounds a rate by 1-0.05^(1/2000);
// 4 of 20 by 0.0714 and 0.4010, one-sided (Clopper and Pearson, 95 %).
func TestBinomialBounds(t *testing.T) {
	if _, hi := interval(0, 2000, 0.95); math.Abs(hi-(1-math.Pow(0.05, 1.0/2000))) > 1e-9 {
		t.Errorf("none in 2,000: below %v", hi)
	}
	if lo, hi := interval(4, 20, 0.95); math.Abs(lo-0.0714) > 1e-4 || math.Abs(hi-0.4010) > 1e-4 {
		t.Errorf("4 of 20: %v to %v", lo, hi)
	}
	if few, many := within(2000, 0.05, 0.99); few != 76 || many != 126 {
		t.Errorf("of 2,000 at 1 in 20: %d to %d", few, many)
	}
}
