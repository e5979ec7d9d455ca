// Command mutants asks whether the tests would notice a slip of the pen: it changes one operator, constant or
// branch at a time, in files of the folders named, drawn from a seed, and runs the folder's tests on each. What
// no test notices is printed, for a person to judge: see MUTANTS.md.
package main

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"
)

func main() {
	n := flag.Int("n", 300, "how many mutants")
	seed := flag.Uint64("seed", 2031, "which")
	first := flag.Int("first", 0, "begin with this one of them")
	limit := flag.Duration("limit", 5*time.Minute, "how long a mutant's tests may take; longer is noticed")
	flag.Parse()
	if err := run(flag.Args(), *n, *first, *seed, *limit); err != nil {
		fmt.Fprintln(os.Stderr, "mutants:", err)
		os.Exit(1)
	}
}

func run(dirs []string, n, first int, seed uint64, limit time.Duration) error {
	var all []mutant
	tests := map[string][]string{}
	for _, dir := range dirs {
		list, err := mutants(filepath.Clean(dir))
		if err != nil {
			return err
		}
		all = append(all, list...)
		if len(list) > 0 {
			pkg := list[0].pkg
			if tests[pkg], err = batches(pkg); err != nil {
				return err
			}
		}
	}
	if len(all) == 0 {
		return fmt.Errorf("nothing to change in %v", dirs)
	}
	rand.New(rand.NewPCG(seed, 0)).Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	var killed, endless, survived, unbuilt int
	for i, m := range all {
		if killed+survived == n {
			break
		}
		if i < first {
			continue
		}
		got, err := try(m, tests[m.pkg], limit)
		if err != nil {
			return err
		}
		switch got {
		case "survived":
			survived++
		case "unbuilt":
			unbuilt++ // the compiler noticed; it is no test's merit
		case "endless":
			endless++
			killed++
		default:
			killed++
		}
		if got != "unbuilt" {
			fmt.Printf("%4d %-8s %s:%d %s\n", i, got, m.file, m.line, m.says)
		}
	}
	fmt.Printf("%d mutants of %d: %d noticed, %d of them by tests that did not end, %d survived, %.1f %%; %d more did not compile\n",
		killed+survived, len(all), killed, endless, survived, 100*float64(killed)/float64(max(1, killed+survived)), unbuilt)
	return nil
}
