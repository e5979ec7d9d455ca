// Package rows does arithmetic on rows of numbers, several at a time where the processor can.
//
// All rows of a call are at least as long as the first.
package rows

// kernels do the same, but all of spot for a multiple of eight values.
type kernels struct {
	combine func(dst, k []float32, from [][]float32, n int)
	mulAdd  func(dst, a, b []float32, n int)
	product func(c, s, c1, s1, c2, s2 []float32, n int)
	beat    func(out, du, dv, c, s, kp, kq []float32, from [][]float32, m, k float32, n int)
	spot    func(out *[4]float32, pix []float32, stride int, wx, wy []float32)
}

// plain are the kernels in Go, for any number of values.
var plain = kernels{combineGo, mulAddGo, productGo, beatGo, spotGo}

// Combine sets dst to the sum of the rows of from, each times its k. dst may be one of them.
func Combine(dst, k []float32, from [][]float32) { fastest.combineAll(dst, k, from) }

func (f kernels) combineAll(dst, k []float32, from [][]float32) {
	n := len(dst) &^ 7
	for _, r := range from {
		_ = r[:len(dst)]
	}
	if _ = k[:len(from)]; n > 0 && len(from) > 0 {
		f.combine(dst, k, from, n)
	} else {
		n = 0
	}
	if n < len(dst) {
		rest := make([][]float32, len(from))
		for i, r := range from {
			rest[i] = r[n:]
		}
		combineGo(dst[n:], k, rest, len(dst)-n)
	}
}

// MulAdd adds a times b to dst.
func MulAdd(dst, a, b []float32) { fastest.mulAddAll(dst, a, b) }

func (f kernels) mulAddAll(dst, a, b []float32) {
	n := len(dst) &^ 7
	a, b = a[:len(dst)], b[:len(dst)]
	if n > 0 {
		f.mulAdd(dst, a, b, n)
	}
	mulAddGo(dst[n:], a[n:], b[n:], len(dst)-n)
}

// Product sets c + i s to (c1 + i s1)(c2 + i s2): angles add up.
func Product(c, s, c1, s1, c2, s2 []float32) { fastest.productAll(c, s, c1, s1, c2, s2) }

func (f kernels) productAll(c, s, c1, s1, c2, s2 []float32) {
	n, w := len(c)&^7, len(c)
	s, c1, s1, c2, s2 = s[:w], c1[:w], s1[:w], c2[:w], s2[:w]
	if n > 0 {
		f.product(c, s, c1, s1, c2, s2, n)
	}
	productGo(c[n:], s[n:], c1[n:], s1[n:], c2[n:], s2[n:], w-n)
}

// A Wave is a row of a wave's cosine and sine, and how fast its angle changes with each of two movements.
type Wave struct {
	Cos, Sin []float32
	U, V     float32
}

// Beat adds a wave to out, and to du and dv how it changes with the movements. The wave's amplitudes are p for the
// cosine and q for the sine: sums of the rows of from, each times its kp and kq.
func Beat(out, du, dv []float32, w *Wave, kp, kq []float32, from [][]float32) {
	fastest.beatAll(out, du, dv, w, kp, kq, from)
}

func (f kernels) beatAll(out, du, dv []float32, w *Wave, kp, kq []float32, from [][]float32) {
	n, all := len(out)&^7, len(out)
	du, dv, c, s := du[:all], dv[:all], w.Cos[:all], w.Sin[:all]
	for _, r := range from {
		_ = r[:all]
	}
	_, _ = kp[:len(from)], kq[:len(from)]
	if n > 0 && len(from) > 0 {
		f.beat(out, du, dv, c, s, kp, kq, from, w.U, w.V, n)
	} else {
		n = 0
	}
	if n < all {
		rest := make([][]float32, len(from))
		for i, r := range from {
			rest[i] = r[n:]
		}
		beatGo(out[n:], du[n:], dv[n:], c[n:], s[n:], kp, kq, rest, w.U, w.V, all-n)
	}
}

// Spot sums up a square of pixels of four values each, times wx across and wy down; it has as many rows as wx has
// values. Rows of pixels are stride values apart.
func Spot(out *[4]float32, pix []float32, stride int, wx, wy []float32) {
	fastest.spotAll(out, pix, stride, wx, wy)
}

func (f kernels) spotAll(out *[4]float32, pix []float32, stride int, wx, wy []float32) {
	n := len(wx)
	f.spot(out, pix[:(n-1)*stride+4*n], stride, wx, wy[:n])
}

func combineGo(dst, k []float32, from [][]float32, n int) {
	for x := range dst[:n] {
		var sum float32
		for i, r := range from {
			sum += k[i] * r[x]
		}
		dst[x] = sum
	}
}

func mulAddGo(dst, a, b []float32, n int) {
	for x := range dst[:n] {
		dst[x] += a[x] * b[x]
	}
}

func productGo(c, s, c1, s1, c2, s2 []float32, n int) {
	for x := range c[:n] {
		c[x], s[x] = c1[x]*c2[x]-s1[x]*s2[x], c1[x]*s2[x]+s1[x]*c2[x]
	}
}

func beatGo(out, du, dv, c, s, kp, kq []float32, from [][]float32, m, k float32, n int) {
	for x := range out[:n] {
		var p, q float32
		for i, r := range from {
			p, q = p+kp[i]*r[x], q+kq[i]*r[x]
		}
		out[x] += p*c[x] + q*s[x]
		d := q*c[x] - p*s[x]
		du[x] += m * d
		dv[x] += k * d
	}
}

func spotGo(out *[4]float32, pix []float32, stride int, wx, wy []float32) {
	var sum [4]float32
	for j, v := range wy {
		var r, g, b, a float32
		row := pix[j*stride:][: 4*len(wx) : 4*len(wx)]
		for i, w := range wx {
			q := row[4*i : 4*i+4 : 4*i+4]
			r, g, b, a = r+w*q[0], g+w*q[1], b+w*q[2], a+w*q[3]
		}
		sum[0], sum[1], sum[2], sum[3] = sum[0]+v*r, sum[1]+v*g, sum[2]+v*b, sum[3]+v*a
	}
	*out = sum
}
