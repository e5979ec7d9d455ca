//go:build !amd64

package compare

// fastest are the kernels for the processor that the program runs on.
var fastest = kernels{filterRowGo, scoreRowGo}
