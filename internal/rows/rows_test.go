package rows

import (
	"math"
	"math/rand/v2"
	"testing"
)

func made(r *rand.Rand, n int) []float32 {
	out := make([]float32, n)
	for i := range out {
		out[i] = float32(r.NormFloat64())
	}
	return out
}

// TestKernels holds the kernels of this processor, and those in Go, against sums of double precision, at lengths
// around multiples of eight. What lies beyond a row's end must stay as it was.
func TestKernels(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	near := func(what string, got float32, want float64) {
		t.Helper()
		if math.Abs(float64(got)-want) > 1e-4 {
			t.Fatalf("%s: %v, want %v", what, got, want)
		}
	}
	for name, f := range map[string]kernels{"chosen": fastest, "go": plain} {
		for _, n := range []int{1, 7, 8, 9, 15, 40, 47, 48, 240, 317, 320} {
			for _, terms := range []int{1, 2, 9, 43} {
				var from [][]float32
				for range terms {
					from = append(from, made(r, n+3)[:n])
				}
				k, k2 := made(r, terms), made(r, terms)
				p, q := make([]float64, n), make([]float64, n)
				for x := range n {
					for i := range from {
						p[x] += float64(k[i]) * float64(from[i][x])
						q[x] += float64(k2[i]) * float64(from[i][x])
					}
				}
				long := make([]float32, n+8)
				long[n] = 42
				f.combineAll(long[:n], k, from)
				for x := range n {
					near(name+" combine", long[x], p[x])
				}
				if long[n] != 42 {
					t.Fatalf("%s: combine writes beyond a row of %d", name, n)
				}
				out, du, dv := make([]float32, n), make([]float32, n), make([]float32, n)
				w := Wave{made(r, n), made(r, n), 2, -3}
				f.beatAll(out, du, dv, &w, k, k2, from)
				for x := range n {
					c, s := float64(w.Cos[x]), float64(w.Sin[x])
					d := q[x]*c - p[x]*s
					near(name+" beat", out[x], p[x]*c+q[x]*s)
					near(name+" beat by u", du[x], 2*d)
					near(name+" beat by v", dv[x], -3*d)
				}
			}
			a, b, c, d := made(r, n), made(r, n), made(r, n), made(r, n)
			sum := append([]float32(nil), c...)
			f.mulAddAll(sum, a, b)
			re, im := make([]float32, n), make([]float32, n)
			f.productAll(re, im, a, b, c, d)
			for x := range n {
				near(name+" multiply and add", sum[x], float64(c[x])+float64(a[x])*float64(b[x]))
				near(name+" product", re[x], float64(a[x])*float64(c[x])-float64(b[x])*float64(d[x]))
				near(name+" product", im[x], float64(a[x])*float64(d[x])+float64(b[x])*float64(c[x]))
			}
		}
		for _, n := range []int{2, 4, 6, 10} {
			const stride = 4 * 13
			pix, wx, wy := made(r, n*stride), made(r, n), made(r, n)
			var got [4]float32
			f.spotAll(&got, pix, stride, wx, wy)
			for c := range got {
				var want float64
				for j := range n {
					for i := range n {
						want += float64(wy[j]) * float64(wx[i]) * float64(pix[j*stride+4*i+c])
					}
				}
				near(name+" spot", got[c], want)
			}
		}
	}
}
