//go:build !amd64

package rows

// fastest are the kernels for the processor that the program runs on.
var fastest = plain
