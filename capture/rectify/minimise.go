package rectify

import "math"

// minimise lowers the sum of squares of n residuals by Levenberg and Marquardt's method, from
// p on, which it overwrites; it returns the root mean square of the residuals. With limit > 0 each pair of
// residuals is one point, and points further off than limit count less, after Huber.
func minimise(p []float64, n int, limit float64, residuals func(p, r []float64)) float64 {
	m := len(p)
	r, try := make([]float64, n), make([]float64, n)
	jac := make([][]float64, m)
	for i := range jac {
		jac[i] = make([]float64, n)
	}
	weight := make([]float64, n)
	cost := func(r []float64) (sum float64) {
		for i := range r {
			weight[i] = 1
		}
		if limit <= 0 {
			for _, v := range r {
				sum += v * v
			}
			return sum
		}
		for i := 0; i+1 < len(r); i += 2 {
			d := math.Hypot(r[i], r[i+1])
			if d <= limit {
				sum += d * d
				continue
			}
			weight[i], weight[i+1] = limit/d, limit/d
			sum += 2*limit*d - limit*limit
		}
		return sum
	}
	residuals(p, r)
	now := cost(r)
	damp := 1e-3
	q := make([]float64, m)
	for range 100 {
		for i := range p {
			h := 1e-6 * max(math.Abs(p[i]), 1e-2)
			copy(q, p)
			q[i] += h
			residuals(q, jac[i])
			q[i] = p[i] - h
			residuals(q, try)
			for k := range try {
				jac[i][k] = (jac[i][k] - try[k]) / (2 * h)
			}
		}
		cost(r) // weights of where we stand
		a := make([][]float64, m)
		for i := range a {
			a[i] = make([]float64, m+1)
			for j := range m {
				for k := range r {
					a[i][j] += weight[k] * jac[i][k] * jac[j][k]
				}
			}
			for k := range r {
				a[i][m] -= weight[k] * jac[i][k] * r[k]
			}
		}
		done, moved := true, false
		for range 12 {
			b := make([][]float64, m)
			for i := range b {
				// Rows and columns are scaled to a unit diagonal, so that parameters of any size
				// can be solved for together.
				b[i] = make([]float64, m+1)
				for j := range m {
					b[i][j] = a[i][j] / math.Sqrt(a[i][i]*a[j][j]+1e-300)
				}
				b[i][i] += damp
				b[i][m] = a[i][m] / math.Sqrt(a[i][i]+1e-300)
			}
			step, ok := Solve(b)
			if ok {
				copy(q, p)
				for i := range q {
					q[i] += step[i] / math.Sqrt(a[i][i]+1e-300)
				}
				residuals(q, try)
				if next := cost(try); next < now {
					done = now-next < 1e-12*now
					copy(p, q)
					r, try = try, r
					now, damp, moved = next, damp/10, true
					break
				}
			}
			damp *= 10
		}
		if done || !moved {
			break
		}
	}
	return math.Sqrt(now / float64(n))
}
