// Command wasm compiles the Fernhouse firmware to the twins that are committed beside the demo's walks; with -boards
// to those for other panels instead, into testdata/boards.
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"

	"github.com/fascia-bench/fascia/suites/demo/firmware/compile"
)

func main() {
	boards := flag.Bool("boards", false, "build for other panels, to be held against each other")
	flag.Parse()
	demo := filepath.Join("suites", "demo")
	if flag.NArg() > 0 {
		demo = flag.Arg(0)
	}
	list := compile.Variants
	if *boards {
		list = compile.Boards
	}
	err := compile.Write(demo, list, func(file string, bytes int) { fmt.Printf("%s: %d bytes\n", file, bytes) })
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}
