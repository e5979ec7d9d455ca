package photo

import (
	"cmp"
	"math"
	"slices"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// An Overtone is a beat of higher order between the panel's grid and the camera's mosaic, which a sharp lens lets
// through: the wave cos and sin of pi (M u + N v). Which of them are there depends on lens, stripes and
// scale, so each bench picks its own few from what its cards' photos leave over.
type Overtone struct {
	M, N int
	// Of each camera channel, for cosine and sine: times the like channel's light, that light times x and times
	// y, and the other two channels' light.
	Of [3][2][overtoneTerms]float32
}

const (
	overtones     = 8 // picked at most
	overtoneTerms = 5
	highestM      = 6
)

// pickOvertones finds the waves that explain most of what cards leave over, in even areas of every part of the
// panel. Parts are taken by themselves, since a wave's amplitude and phase drift over the panel.
func (o *Optics) pickOvertones(shown []*screen, views []*sight) {
	const tile = 32
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	var candidates [][2]int
	for m := 0; m <= highestM; m++ {
		for n := -highestM; n <= highestM; n++ {
			if m+max(n, -n) > highestM || m == 0 && n <= 0 || isBasic(m, n) {
				continue
			}
			candidates = append(candidates, [2]int{m, n})
		}
	}
	power := make([]float64, len(candidates))
	tiles := ((w + tile - 1) / tile) * ((h + tile - 1) / tile)
	parallel(len(candidates), func(lo, hi int) {
		sum := make([][4]float64, tiles)
		for i := lo; i < hi; i++ {
			m, n := float64(candidates[i][0]), float64(candidates[i][1])
			for j, v := range views {
				if j%2 == 0 {
					continue // calm cards say most of it
				}
				s := shown[j]
				clear(sum)
				for y := 0; y < h; y++ {
					for x := (y * 5) % 3; x < w; x += 3 {
						k := y*w + x
						if s.vary[1][s.at(x, y)] > 1e-4 {
							continue
						}
						sin, cos := math.Sincos(math.Pi * (m*(float64(o.sampler.U[k])+v.Move.X) + n*(float64(o.sampler.V[k])+v.Move.Y)))
						t := &sum[y/tile*((w+tile-1)/tile)+x/tile]
						for c := range 3 {
							l := float64(s.light[c][s.at(x, y)]) / math.Sqrt(float64(v.noise[c][k]))
							r := float64(clamp(v.left[c][k]/sqrt32(v.noise[c][k]), 5))
							t[0], t[1], t[2], t[3] = t[0]+l*r*cos, t[1]+l*r*sin, t[2]+l*l, t[3]+r*r
						}
					}
				}
				for _, t := range sum {
					if t[2] > 0 {
						power[i] += 2 * (t[0]*t[0] + t[1]*t[1]) / t[2]
					}
				}
			}
		}
	})
	order := make([]int, len(candidates))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(power[b], power[a]) })
	o.Overtones = o.Overtones[:0]
	for _, i := range order[:overtones] {
		o.Overtones = append(o.Overtones, Overtone{M: candidates[i][0], N: candidates[i][1]})
	}
}

// isBasic reports whether a wave is among those of phase.
func isBasic(m, n int) bool {
	switch [2]int{m, n} {
	case [2]int{1, 0}, [2]int{0, 1}, [2]int{1, 1}, [2]int{1, -1}, [2]int{2, 0}, [2]int{0, 2}:
		return true
	}
	return false
}

// tune fits the overtones to what is left over, which holds what they explained before.
func (o *Optics) tune(shown []*screen, views []*sight) {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	n := len(o.Overtones) * 2 * overtoneTerms
	if n == 0 {
		return
	}
	for c := range 3 {
		parts := make([][]float64, len(views))
		parallel(len(views), func(lo, hi int) {
			f := make([]float64, n+1)
			for i := lo; i < hi; i++ {
				v, s := views[i], shown[i]
				a := make([]float64, n*(n+1))
				for k := i % 9; k < w*h; k += 9 {
					x, y := k%w, k/w
					at := s.at(x, y)
					r := float64(v.left[c][k])
					weight := 1 / float64(v.noise[c][k])
					if q := r * r * weight; q > 16 {
						weight *= 16 / q
					}
					l, l1, l2 := float64(s.light[c][at]), float64(s.light[(c+1)%3][at]), float64(s.light[(c+2)%3][at])
					g := [overtoneTerms]float64{l, l * float64(o.x[x]), l * float64(o.y[y]), l1, l2}
					j := 0
					for _, q := range o.Overtones {
						sin, cos := math.Sincos(math.Pi * (float64(q.M)*(float64(o.sampler.U[k])+v.Move.X) + float64(q.N)*(float64(o.sampler.V[k])+v.Move.Y)))
						for _, e := range g {
							f[j], f[j+overtoneTerms] = e*cos, e*sin
							j++
						}
						j += overtoneTerms
					}
					f[n] = r
					for p := range n {
						wf := weight * f[p]
						row := a[p*(n+1):][:n+1]
						for q := p; q <= n; q++ {
							row[q] += wf * f[q]
						}
					}
				}
				parts[i] = a
			}
		})
		sys := make([][]float64, n)
		for p := range sys {
			sys[p] = make([]float64, n+1)
		}
		var trace float64
		for p := range n {
			for q := p; q <= n; q++ {
				for _, a := range parts {
					sys[p][q] += a[p*(n+1)+q]
				}
				if q < n {
					sys[q][p] = sys[p][q]
				}
			}
			trace += sys[p][p] / float64(n)
		}
		for p := range n {
			sys[p][p] += 1e-4*trace + 1e-9
		}
		sol, ok := rectify.Solve(sys)
		if !ok {
			continue
		}
		j := 0
		for i := range o.Overtones {
			for k := range 2 {
				for e := range overtoneTerms {
					o.Overtones[i].Of[c][k][e] += float32(sol[j])
					j++
				}
			}
		}
	}
}
