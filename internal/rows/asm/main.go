//go:build avo

// Command asm writes the amd64 kernels of package rows: run `go generate` there.
//
// The tag keeps it, and the library that it needs, out of ordinary builds.
package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

const (
	size  = 4  // of a float32
	slice = 24 // of a slice's header, the pointer first
	lanes = 8
)

func main() {
	combine()
	mulAdd()
	product()
	beat()
	spot()
	Generate()
}

func at(base Register, i Register, disp int) Mem {
	return Mem{Base: base, Index: i, Scale: size, Disp: disp * size}
}

func ptr(name string) Register { return Load(Param(name), GP64()) }

// terms calls f for each of the rows in from, with its coefficients' index and pointer.
func terms(label string, from, count Register, f func(j, row Register)) {
	j, header, row := GP64(), GP64(), GP64()
	XORQ(j, j)
	MOVQ(from, header)
	Label(label)
	MOVQ(Mem{Base: header}, row)
	f(j, row)
	ADDQ(Imm(slice), header)
	INCQ(j)
	CMPQ(j, count)
	JL(LabelRef(label))
}

func combine() {
	TEXT("combineAVX2", NOSPLIT, "func(dst, k *float32, from *[]float32, terms, n int)")
	Doc("combineAVX2 sets n values, a multiple of 8, of dst to the sum of the rows of from times k.")
	dst, k, from, count, n := ptr("dst"), ptr("k"), ptr("from"), ptr("terms"), ptr("n")
	i, left := GP64(), GP64()
	XORQ(i, i)
	block := func(name string, wide int) {
		Label(name)
		MOVQ(n, left)
		SUBQ(i, left)
		CMPQ(left, Imm(uint64(wide*lanes)))
		JL(LabelRef(name + "Done"))
		acc := make([]VecVirtual, wide)
		for b := range acc {
			acc[b] = YMM()
			VXORPS(acc[b], acc[b], acc[b])
		}
		c := YMM()
		terms(name+"Term", from, count, func(j, row Register) {
			VBROADCASTSS(at(k, j, 0), c)
			for b := range acc {
				VFMADD231PS(at(row, i, b*lanes), c, acc[b])
			}
		})
		for b := range acc {
			VMOVUPS(acc[b], at(dst, i, b*lanes))
		}
		ADDQ(Imm(uint64(wide*lanes)), i)
		JMP(LabelRef(name))
		Label(name + "Done")
	}
	block("wide", 5)
	block("narrow", 1)
	VZEROUPPER()
	RET()
}

// loop runs f for each eight of n values.
func loop(n Register, f func(i Register)) {
	i := GP64()
	XORQ(i, i)
	Label("loop")
	f(i)
	ADDQ(Imm(lanes), i)
	CMPQ(i, n)
	JL(LabelRef("loop"))
	VZEROUPPER()
	RET()
}

func mulAdd() {
	TEXT("mulAddAVX2", NOSPLIT, "func(dst, a, b *float32, n int)")
	Doc("mulAddAVX2 adds a times b to n values, a multiple of 8, of dst.")
	dst, a, b, n := ptr("dst"), ptr("a"), ptr("b"), ptr("n")
	loop(n, func(i Register) {
		d, v := YMM(), YMM()
		VMOVUPS(at(dst, i, 0), d)
		VMOVUPS(at(a, i, 0), v)
		VFMADD231PS(at(b, i, 0), v, d)
		VMOVUPS(d, at(dst, i, 0))
	})
}

func product() {
	TEXT("productAVX2", NOSPLIT, "func(c, s, c1, s1, c2, s2 *float32, n int)")
	Doc("productAVX2 sets n values, a multiple of 8, of c + i s to (c1 + i s1)(c2 + i s2).")
	c, s, c1, s1, c2, s2, n := ptr("c"), ptr("s"), ptr("c1"), ptr("s1"), ptr("c2"), ptr("s2"), ptr("n")
	loop(n, func(i Register) {
		a, b, p, q, t, u := YMM(), YMM(), YMM(), YMM(), YMM(), YMM()
		VMOVUPS(at(c1, i, 0), a)
		VMOVUPS(at(s1, i, 0), b)
		VMOVUPS(at(c2, i, 0), p)
		VMOVUPS(at(s2, i, 0), q)
		VMULPS(a, p, t)
		VFNMADD231PS(b, q, t)
		VMULPS(a, q, u)
		VFMADD231PS(b, p, u)
		VMOVUPS(t, at(c, i, 0))
		VMOVUPS(u, at(s, i, 0))
	})
}

func beat() {
	TEXT("beatAVX2", NOSPLIT, "func(out, du, dv, c, s, kp, kq *float32, from *[]float32, terms int, m, k float32, n int)")
	Doc("beatAVX2 adds p c + q s to out, m d to du and k d to dv, with d = q c - p s, where p and q are the sums of the",
		"rows of from times kp and kq, for n values, a multiple of 8.")
	out, du, dv, c, s := ptr("out"), ptr("du"), ptr("dv"), ptr("c"), ptr("s")
	kp, kq, from, count := ptr("kp"), ptr("kq"), ptr("from"), ptr("terms")
	m, mAt := YMM(), XMM()
	k, kAt := YMM(), XMM()
	Load(Param("m"), mAt)
	Load(Param("k"), kAt)
	VBROADCASTSS(mAt, m)
	VBROADCASTSS(kAt, k)
	i, left := GP64(), GP64()
	XORQ(i, i)
	block := func(name string, wide int) {
		Label(name)
		Load(Param("n"), left)
		SUBQ(i, left)
		CMPQ(left, Imm(uint64(wide*lanes)))
		JL(LabelRef(name + "Done"))
		p, q := make([]VecVirtual, wide), make([]VecVirtual, wide)
		for b := range wide {
			p[b], q[b] = YMM(), YMM()
			VXORPS(p[b], p[b], p[b])
			VXORPS(q[b], q[b], q[b])
		}
		a, b, row := YMM(), YMM(), YMM()
		terms(name+"Term", from, count, func(j, r Register) {
			VBROADCASTSS(at(kp, j, 0), a)
			VBROADCASTSS(at(kq, j, 0), b)
			for w := range wide {
				VMOVUPS(at(r, i, w*lanes), row)
				VFMADD231PS(row, a, p[w])
				VFMADD231PS(row, b, q[w])
			}
		})
		for w := range wide {
			cos, sin, v := a, b, row
			VMOVUPS(at(c, i, w*lanes), cos)
			VMOVUPS(at(s, i, w*lanes), sin)
			VMOVUPS(at(out, i, w*lanes), v)
			VFMADD231PS(p[w], cos, v)
			VFMADD231PS(q[w], sin, v)
			VMOVUPS(v, at(out, i, w*lanes))
			VMULPS(q[w], cos, cos)
			VFNMADD231PS(p[w], sin, cos)
			VMOVUPS(at(du, i, w*lanes), v)
			VFMADD231PS(cos, m, v)
			VMOVUPS(v, at(du, i, w*lanes))
			VMOVUPS(at(dv, i, w*lanes), v)
			VFMADD231PS(cos, k, v)
			VMOVUPS(v, at(dv, i, w*lanes))
		}
		ADDQ(Imm(uint64(wide*lanes)), i)
		JMP(LabelRef(name))
		Label(name + "Done")
	}
	block("wide", 4)
	block("narrow", 1)
	VZEROUPPER()
	RET()
}

func spot() {
	TEXT("spotAVX2", NOSPLIT, "func(out, pix *float32, stride int, wx, wy *float32, taps int)")
	Doc("spotAVX2 sets four values of out to the sum of taps by taps pixels of four values each, times wx across and wy",
		"down. Rows of pixels are stride values apart.")
	out, pix, stride, wx, wy, taps := ptr("out"), ptr("pix"), ptr("stride"), ptr("wx"), ptr("wy"), ptr("taps")
	SHLQ(Imm(2), stride)
	sum, row, w := XMM(), XMM(), XMM()
	VXORPS(sum, sum, sum)
	i, j, p := GP64(), GP64(), GP64()
	XORQ(j, j)
	Label("down")
	VXORPS(row, row, row)
	XORQ(i, i)
	MOVQ(pix, p)
	Label("across")
	VBROADCASTSS(at(wx, i, 0), w)
	VFMADD231PS(Mem{Base: p}, w, row)
	ADDQ(Imm(4*size), p)
	INCQ(i)
	CMPQ(i, taps)
	JL(LabelRef("across"))
	VBROADCASTSS(at(wy, j, 0), w)
	VFMADD231PS(row, w, sum)
	ADDQ(stride, pix)
	INCQ(j)
	CMPQ(j, taps)
	JL(LabelRef("down"))
	VMOVUPS(sum, Mem{Base: out})
	RET()
}
