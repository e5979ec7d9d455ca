package main

import (
	"fmt"
	"os"
	"path/filepath"
)

func main() {
	demo := filepath.Join("suites", "demo")
	if len(os.Args) > 1 {
		demo = os.Args[1]
	}
	for _, v := range variants {
		wasm, err := build(filepath.Join(demo, "firmware"), v)
		if err == nil {
			err = os.MkdirAll(filepath.Dir(filepath.Join(demo, v.file)), 0o777)
		}
		if err == nil {
			err = os.WriteFile(filepath.Join(demo, v.file), wasm, 0o666)
		}
		if err != nil {
			fmt.Fprintf(os.Stderr, "build %s: %v\n", v.file, err)
			os.Exit(1)
		}
		fmt.Printf("%s: %d bytes\n", filepath.Join(demo, v.file), len(wasm))
	}
}
