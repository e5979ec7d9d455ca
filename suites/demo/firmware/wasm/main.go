// Command wasm compiles the Fernhouse firmware to the twins that are committed beside the demo's walks.
package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/fascia-bench/fascia/suites/demo/firmware/compile"
)

func main() {
	demo := filepath.Join("suites", "demo")
	if len(os.Args) > 1 {
		demo = os.Args[1]
	}
	for _, v := range compile.Variants {
		wasm, err := compile.Build(filepath.Join(demo, "firmware"), v)
		if err == nil {
			err = os.MkdirAll(filepath.Dir(filepath.Join(demo, v.File)), 0o777)
		}
		if err == nil {
			err = os.WriteFile(filepath.Join(demo, v.File), wasm, 0o666)
		}
		if err != nil {
			fmt.Fprintf(os.Stderr, "build %s: %v\n", v.File, err)
			os.Exit(1)
		}
		fmt.Printf("%s: %d bytes\n", filepath.Join(demo, v.File), len(wasm))
	}
}
