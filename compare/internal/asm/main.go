//go:build avo

// Command asm writes the amd64 kernels of SSIM: run `go generate` in package compare.
//
// The tag keeps it, and the library that it needs, out of ordinary builds.
package main

import (
	"math"

	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// The layout, as in ssim_fast.go: a row of filtered sums has four planes of 64 values.
const (
	taps         = 11
	planes       = 4
	stripWidth   = 64
	scratchWidth = 80
	size         = 8 // of a float64
	rowBytes     = planes * stripWidth * size
)

func main() {
	filterRow()
	scoreRow()
	Generate()
}

// quad puts the same value four times into read-only data.
func quad(name string, v float64) Mem {
	m := GLOBL(name, RODATA|NOPTR)
	for i := range 4 {
		DATA(i*size, U64(math.Float64bits(v)))
	}
	return m
}

func filterRow() {
	TEXT("filterRowAVX2", NOSPLIT, "func(dst, scratch *float64, a, b *uint8, weights *float64, n int)")
	Doc("filterRowAVX2 stores the horizontally filtered sums of n pixels, a multiple of 4, of",
		"a+b, a-b and their squares in dst. It reads n+12 bytes of a and b.")
	dst := Load(Param("dst"), GP64())
	scratch := Load(Param("scratch"), GP64())
	a := Load(Param("a"), GP64())
	b := Load(Param("b"), GP64())
	weights := Load(Param("weights"), GP64())
	n := Load(Param("n"), GP64())

	plane := func(p Register, i int, at Register) Mem { return Mem{Base: p, Disp: i, Index: at, Scale: 8} }

	Comment("Sums, differences and squares of n+12 pixels.")
	i, end := GP64(), GP64()
	XORQ(i, i)
	LEAQ(Mem{Base: n, Disp: 12}, end)
	Label("convert")
	va, vb, sum := XMM(), XMM(), XMM()
	VPMOVZXBD(Mem{Base: a, Index: i, Scale: 1}, va)
	VPMOVZXBD(Mem{Base: b, Index: i, Scale: 1}, vb)
	VPADDD(vb, va, sum)
	VPSUBD(vb, va, va)
	s, d := YMM(), YMM()
	VCVTDQ2PD(sum, s)
	VCVTDQ2PD(va, d)
	VMOVUPD(s, plane(scratch, 0, i))
	VMOVUPD(d, plane(scratch, scratchWidth*size, i))
	VMULPD(s, s, s)
	VMULPD(d, d, d)
	VMOVUPD(s, plane(scratch, 2*scratchWidth*size, i))
	VMOVUPD(d, plane(scratch, 3*scratchWidth*size, i))
	ADDQ(Imm(4), i)
	CMPQ(i, end)
	JL(LabelRef("convert"))

	Comment("The window is symmetric: six weights serve eleven taps.")
	var w [taps/2 + 1]VecVirtual
	for t := range w {
		w[t] = YMM()
		VBROADCASTSD(Mem{Base: weights, Disp: t * size}, w[t])
	}
	XORQ(i, i)
	Label("filter")
	var acc [planes]VecVirtual
	for k := range acc {
		acc[k] = YMM()
		VMULPD(plane(scratch, k*scratchWidth*size, i), w[0], acc[k])
	}
	for t := 1; t < taps; t++ {
		for k := range acc {
			VFMADD231PD(plane(scratch, (k*scratchWidth+t)*size, i), w[min(t, taps-1-t)], acc[k])
		}
	}
	for k := range acc {
		VMOVUPD(acc[k], plane(dst, k*stripWidth*size, i))
	}
	ADDQ(Imm(4), i)
	CMPQ(i, n)
	JL(LabelRef("filter"))
	VZEROUPPER()
	RET()
}

func scoreRow() {
	c1, c2 := quad("twiceC1", 2*(0.01*255)*(0.01*255)), quad("twiceC2", 2*(0.03*255)*(0.03*255))
	TEXT("scoreRowAVX2", NOSPLIT, "func(out, ring, weights *float64, n int) (sum, low float64)")
	Doc("scoreRowAVX2 filters the 11 rows of ring vertically with 11 weights, stores the scores of",
		"n windows, a multiple of 4, in out, and gives their sum and the lowest.")
	out := Load(Param("out"), GP64())
	ring := Load(Param("ring"), GP64())
	weights := Load(Param("weights"), GP64())
	n := Load(Param("n"), GP64())

	var w [taps]VecVirtual
	for t := range w {
		w[t] = YMM()
		VBROADCASTSD(Mem{Base: weights, Disp: t * size}, w[t])
	}
	i := GP64()
	XORQ(i, i)
	Label("score")
	var m [planes]VecVirtual
	for k := range m {
		m[k] = YMM()
		VMULPD(Mem{Base: ring, Disp: k * stripWidth * size, Index: i, Scale: 8}, w[0], m[k])
	}
	for t := 1; t < taps; t++ {
		for k := range m {
			VFMADD231PD(Mem{Base: ring, Disp: t*rowBytes + k*stripWidth*size, Index: i, Scale: 8}, w[t], m[k])
		}
	}
	Comment("With s = a+b and d = a-b the factor 1/2 of every term cancels.")
	s, d, ss, dd, t := m[0], m[1], m[2], m[3], YMM()
	VMULPD(s, s, t)
	VMULPD(d, d, s)
	VSUBPD(t, ss, ss)
	VSUBPD(s, dd, dd)
	VSUBPD(s, t, d)
	VADDPD(s, t, t)
	VSUBPD(dd, ss, s)
	VADDPD(dd, ss, ss)
	VADDPD(c1, d, d)
	VADDPD(c1, t, t)
	VADDPD(c2, s, s)
	VADDPD(c2, ss, ss)
	VMULPD(s, d, d)
	VMULPD(ss, t, t)
	VDIVPD(t, d, d)
	VMOVUPD(d, Mem{Base: out, Index: i, Scale: 8})
	ADDQ(Imm(4), i)
	CMPQ(i, n)
	JL(LabelRef("score"))

	Comment("Sum and minimum of the row.")
	sum, low, v := YMM(), YMM(), YMM()
	VXORPD(sum, sum, sum)
	VMOVUPD(Mem{Base: out}, low)
	XORQ(i, i)
	Label("reduce")
	VMOVUPD(Mem{Base: out, Index: i, Scale: 8}, v)
	VADDPD(v, sum, sum)
	VMINPD(v, low, low)
	ADDQ(Imm(4), i)
	CMPQ(i, n)
	JL(LabelRef("reduce"))
	hi := XMM()
	VEXTRACTF128(Imm(1), sum, hi)
	VADDPD(hi, sum.AsX(), sum.AsX())
	VHADDPD(sum.AsX(), sum.AsX(), sum.AsX())
	VEXTRACTF128(Imm(1), low, hi)
	VMINPD(hi, low.AsX(), low.AsX())
	VPERMILPD(Imm(1), low.AsX(), hi)
	VMINSD(hi, low.AsX(), low.AsX())
	Store(sum.AsX(), ReturnIndex(0))
	Store(low.AsX(), ReturnIndex(1))
	VZEROUPPER()
	RET()
}
