package rows

import "golang.org/x/sys/cpu"

//go:generate go run -tags avo ./asm -out kernels_amd64.s -stubs kernels_stub_amd64.go -pkg rows

// fastest are the kernels for the processor that the program runs on. Rows are sized by the callers; the assembly
// trusts them.
var fastest = func() kernels {
	if !cpu.X86.HasAVX2 || !cpu.X86.HasFMA {
		return plain
	}
	return kernels{
		func(dst, k []float32, from [][]float32, n int) { combineAVX2(&dst[0], &k[0], &from[0], len(from), n) },
		func(dst, a, b []float32, n int) { mulAddAVX2(&dst[0], &a[0], &b[0], n) },
		func(c, s, c1, s1, c2, s2 []float32, n int) {
			productAVX2(&c[0], &s[0], &c1[0], &s1[0], &c2[0], &s2[0], n)
		},
		func(out, du, dv, c, s, kp, kq []float32, from [][]float32, m, k float32, n int) {
			beatAVX2(&out[0], &du[0], &dv[0], &c[0], &s[0], &kp[0], &kq[0], &from[0], len(from), m, k, n)
		},
		func(out *[4]float32, pix []float32, stride int, wx, wy []float32) {
			spotAVX2(&out[0], &pix[0], stride, &wx[0], &wy[0], len(wx))
		},
	}
}()
