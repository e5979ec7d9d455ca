package photo

import (
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
	"github.com/fascia-bench/fascia/internal/rows"
)

// A wanted is a row of a prediction: what is seen, and how it changes as the photo moves, by the phase of
// the mosaic alone.
type wanted struct{ light, du, dv []float32 }

// predict fills those rows of a sight that want holds for, nil being all, for a photo moved by move; withWaves says
// whether moiré is included.
func (o *Optics) predict(s *screen, move rectify.Point, withWaves bool, want func(y int) bool, v *sight) {
	v.room(s.w * s.h)
	parallel(s.h, func(lo, hi int) {
		q, black := o.predictor(s.w, move), make([]float32, s.w)
		for y := lo; y < hi; y++ {
			if want != nil && !want(y) {
				continue
			}
			if withWaves {
				q.turnTo(y)
			}
			for c := range 3 {
				row := v.want[c][y*s.w : (y+1)*s.w]
				q.row(s, c, y, withWaves, wanted{row, v.du[c][y*s.w : (y+1)*s.w], v.dv[c][y*s.w : (y+1)*s.w]})
				dark, flat := o.Dark[c][y*s.w:], o.Flat[c][y*s.w:]
				for x := range black {
					black[x] = dark[x] / flat[x]
				}
				o.variance(s, c, y, row, black, v.noise[c][y*s.w:(y+1)*s.w])
				for x := range row {
					row[x] += black[x]
				}
			}
		}
	})
	o.slopes(v, s.w, s.h, want)
}

// slopes adds to du and dv what comes of the picture's own gradient.
func (o *Optics) slopes(v *sight, w, h int, want func(y int) bool) {
	light := v.want
	if o.repeats {
		soften(&v.want, &v.soft[0], w, h)
		light = v.soft[0]
	}
	parallel(h, func(lo, hi int) {
		gx, gy := make([]float32, w), make([]float32, w)
		half := []float32{0.5, -0.5}
		for y := max(lo, 1); y < min(hi, h-1); y++ {
			if want != nil && !(want(y-1) && want(y) && want(y+1)) {
				continue
			}
			k, n := y*w+1, w-2
			for c := range 3 {
				q := light[c]
				rows.Combine(gx[:n], half, [][]float32{q[k+1:], q[k-1:]})
				rows.Combine(gy[:n], half, [][]float32{q[k+w:], q[k-w:]})
				du, dv := v.du[c][k:][:n], v.dv[c][k:][:n]
				rows.MulAdd(du, gx, o.slope[0][k:])
				rows.MulAdd(du, gy, o.slope[1][k:])
				rows.MulAdd(dv, gx, o.slope[2][k:])
				rows.MulAdd(dv, gy, o.slope[3][k:])
			}
		}
	})
	if o.repeats {
		v.heedContent(w, h)
	}
}

// setSlope makes, for each panel pixel but the last of rows and columns, by how much what is seen there changes with a
// photo's movement in u and v for each unit of gradient along x and y.
func (o *Optics) setSlope() {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	u, v := o.sampler.U, o.sampler.V
	for i := range o.slope {
		if len(o.slope[i]) != w*h {
			o.slope[i] = make([]float32, w*h)
		}
	}
	for y := range h - 1 {
		for x := range w - 1 {
			k := y*w + x
			ux, uy, vx, vy := u[k+1]-u[k], u[k+w]-u[k], v[k+1]-v[k], v[k+w]-v[k]
			inv := 1 / (ux*vy - uy*vx)
			o.slope[0][k], o.slope[1][k] = -vy*inv, vx*inv
			o.slope[2][k], o.slope[3][k] = uy*inv, -ux*inv
		}
	}
}

// A predictor predicts rows for a photo that is moved in one way.
type predictor struct {
	o              *Optics
	cu, su, cv, sv float32
	waves          []rows.Wave // the basic ones in the order of phase, then the overtones
	powers         [2][highestM + 1]rows.Wave
	minus          []float32 // for waves whose angles are subtracted
	ax, axx        []float32 // light times x and x squared
	sum            []float32
}

// basic are the waves of phase, as multiples of pi u and pi v.
var basic = [waves / 2][2]int{{1, 0}, {0, 1}, {1, 1}, {1, -1}, {2, 0}, {0, 2}}

func (o *Optics) predictor(w int, move rectify.Point) *predictor {
	q := &predictor{o: o}
	q.cu, q.su, q.cv, q.sv = turn(move.X, move.Y)
	fresh := func() []float32 { return make([]float32, w) }
	for d := range q.powers {
		for i := 1; i <= highestM; i++ {
			q.powers[d][i].Cos, q.powers[d][i].Sin = fresh(), fresh()
		}
	}
	add := func(m, n int) {
		q.waves = append(q.waves, rows.Wave{Cos: fresh(), Sin: fresh(), U: float32(math.Pi * float64(m)), V: float32(math.Pi * float64(n))})
	}
	for _, b := range basic {
		add(b[0], b[1])
	}
	for i := range o.Overtones {
		add(o.Overtones[i].M, o.Overtones[i].N)
	}
	q.minus, q.ax, q.axx, q.sum = fresh(), fresh(), fresh(), fresh()
	return q
}

// order gives the multiples of pi u and pi v of wave i.
func (q *predictor) order(i int) (m, n int) {
	if i < len(basic) {
		return basic[i][0], basic[i][1]
	}
	t := &q.o.Overtones[i-len(basic)]
	return t.M, t.N
}

// turnTo works out the waves of a row from its basis: powers of the waves of period 2, and their products.
func (q *predictor) turnTo(y int) {
	o, w := q.o, len(q.sum)
	highest := 2
	for i := range o.Overtones {
		highest = max(highest, o.Overtones[i].M, o.Overtones[i].N, -o.Overtones[i].N)
	}
	for d, by := range [2][2]float32{{q.cu, q.su}, {q.cv, q.sv}} {
		from := [][]float32{o.basis[2*d][y*w:][:w], o.basis[2*d+1][y*w:][:w]}
		p := &q.powers[d]
		rows.Combine(p[1].Cos, []float32{by[0], -by[1]}, from)
		rows.Combine(p[1].Sin, []float32{by[1], by[0]}, from)
		for i := 2; i <= highest; i++ {
			rows.Product(p[i].Cos, p[i].Sin, p[i-1].Cos, p[i-1].Sin, p[1].Cos, p[1].Sin)
		}
	}
	for i := range q.waves {
		m, n := q.order(i)
		to, a, b := &q.waves[i], &q.powers[0][m], &q.powers[1][max(n, -n)]
		sin := b.Sin
		if n < 0 {
			rows.Combine(q.minus, []float32{-1}, [][]float32{b.Sin})
			sin = q.minus
		}
		switch {
		case n == 0:
			copy(to.Cos, a.Cos)
			copy(to.Sin, a.Sin)
		case m == 0:
			copy(to.Cos, b.Cos)
			copy(to.Sin, sin)
		default:
			rows.Product(to.Cos, to.Sin, a.Cos, a.Sin, b.Cos, sin)
		}
	}
}

// row predicts a row of channel c: the dot product of Kernel and feature, and the overtones. Without waves du and
// dv are zero.
func (q *predictor) row(s *screen, c, y int, withWaves bool, to wanted) {
	q.still(s, c, y, to.light)
	clear(to.du)
	clear(to.dv)
	if withWaves {
		q.beats(s, c, y, to)
	}
}

// still predicts what does not depend on where the photo stands.
func (q *predictor) still(s *screen, c, y int, out []float32) {
	o, n := q.o, len(out)
	kern, py, base := o.Kernel[c], o.y[y], s.at(0, y)
	shift := kern[same+2*cross:]
	var from [same + 2*cross][]float32
	var k [same + 2*cross]float32
	var near [9][]float32
	var byX [9]float32
	copy(k[:], kern)
	i := 0
	for dy := -2; dy <= 2; dy++ {
		for dx := -2; dx <= 2; dx++ {
			from[i] = s.light[c][base+dy*s.stride+dx:][:n]
			if j := 3*(dy+1) + dx + 1; dx >= -1 && dx <= 1 && dy >= -1 && dy <= 1 {
				near[j], byX[j] = from[i], shift[2*j]
				k[i] += shift[2*j+1] * py
			}
			i++
		}
	}
	for d := range 3 {
		if d == c {
			continue
		}
		for dy := -1; dy <= 1; dy++ {
			for dx := -1; dx <= 1; dx++ {
				from[i] = s.light[d][base+dy*s.stride+dx:][:n]
				i++
			}
		}
	}
	rows.Combine(out, k[:], from[:])
	rows.Combine(q.sum, byX[:], near[:])
	rows.MulAdd(out, q.sum, o.x)
}

// beats adds the waves to a row of a prediction.
func (q *predictor) beats(s *screen, c, y int, to wanted) {
	o, n := q.o, len(to.light)
	py, base := o.y[y], s.at(0, y)
	l, l1, l2 := s.light[c], s.light[(c+1)%3][base:][:n], s.light[(c+2)%3][base:][:n]
	mid := l[base:][:n]
	clear(q.ax)
	rows.MulAdd(q.ax, mid, o.x)
	clear(q.axx)
	rows.MulAdd(q.axx, q.ax, o.x)
	from := [...][]float32{mid, q.ax, q.axx, l[base-1:][:n], l[base+1:][:n], l[base-s.stride:][:n], l[base+s.stride:][:n], l1, l2}
	taps := o.Kernel[c][same+2*cross+shifting:]
	places, sides := taps[waveTaps*waves:], taps[waveTaps*waves+waveDrift:]
	var k [2][len(from)]float32
	for i := range basic {
		terms := len(from)
		for d := range k {
			j := 2*i + d
			k[d] = [len(from)]float32{
				taps[j] + py*(places[waves+j]+py*places[4*waves+j]), places[j] + py*places[3*waves+j], places[2*waves+j],
				taps[waves+j], taps[2*waves+j]}
			if j >= slow {
				terms = len(from) - sideTaps
				continue
			}
			for a := range sideTaps {
				k[d][len(from)-sideTaps+a] = sides[a*slow+j]
			}
		}
		rows.Beat(to.light, to.du, to.dv, &q.waves[i], k[0][:terms], k[1][:terms], from[:terms])
	}
	few := [...][]float32{mid, q.ax, l1, l2}
	for i := range o.Overtones {
		var k [2][len(few)]float32
		for d, t := range &o.Overtones[i].Of[c] {
			k[d] = [len(few)]float32{t[0] + t[2]*py, t[1], t[3], t[4]}
		}
		rows.Beat(to.light, to.du, to.dv, &q.waves[len(basic)+i], k[0][:], k[1][:], few[:])
	}
}
