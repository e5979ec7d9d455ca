package compare

import "golang.org/x/sys/cpu"

//go:generate go run -tags avo ./internal/asm -out ssim_amd64.s -stubs ssim_stub_amd64.go -pkg compare

// fastest are the kernels for the processor that the program runs on.
var fastest = func() kernels {
	if cpu.X86.HasAVX2 && cpu.X86.HasFMA {
		return kernels{filterRowAsm, scoreRowAsm}
	}
	return kernels{filterRowGo, scoreRowGo}
}()

// The slices are sized here, where the bounds are checked; the assembly trusts them.
func filterRowAsm(dst, scratch []float64, a, b []uint8, n int) {
	_, _, _, _ = dst[stripRow-1], scratch[ssimPlanes*scratchWidth-1], a[n+11], b[n+11]
	filterRowAVX2(&dst[0], &scratch[0], &a[0], &b[0], &ssimWindow[0], n)
}

func scoreRowAsm(out, ring []float64, weights *[ssimTaps]float64, n int) (sum, low float64) {
	_, _ = out[n-1], ring[(ssimTaps-1)*stripRow+(ssimPlanes-1)*stripWidth+n-1]
	return scoreRowAVX2(&out[0], &ring[0], &weights[0], n)
}
