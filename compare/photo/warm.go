package photo

import (
	"fmt"
	"math"
)

// Panel and camera are warm when white changes by less than calm in five minutes: common practice, no source.
const calm, calmMinutes = 0.01, 5.0

// warmUp says whether the white photos grow brighter or darker by more than exposures drift, and how long to wait. Light
// that settles does so exponentially, so that three photos tell the time constant.
func (r *Report) warmUp() string {
	w := r.Whites[1]
	n := len(w)
	if n < 3 || math.Abs(r.Warming) < max(0.02, 3*math.Sqrt2*r.Drift) {
		return ""
	}
	first, last := w[n/2]/w[0]-1, w[n-1]/w[0]-w[n/2]/w[0]
	if first*last <= 0 { // it went there and back
		return ""
	}
	wait := 30.0 // common practice, no source
	if m := r.Minutes; len(m) == n && m[n/2] > 0 && m[n-1] > m[n/2] {
		a, b := first/m[n/2], last/(m[n-1]-m[n/2]) // per minute, in the first half and the second
		apart := m[n-1] / 2                        // the halves' middles
		if q := b / a; q < 0.95 && q > 0 {
			constant := apart / -math.Log(q)
			wait = constant * math.Log(max(1, math.Abs(b)*calmMinutes/calm))
		} else if now := math.Abs(b) * calmMinutes; now < calm {
			return ""
		}
		wait = min(max(wait, 1), 60)
	}
	return fmt.Sprintf("white changed by %+.1f %% from the first photo to the last, and exposures drift by %.1f %%: let panel and camera warm up for %.0f minutes, with the exposure locked, and align again",
		100*r.Warming, 100*r.Drift, math.Ceil(wait))
}
