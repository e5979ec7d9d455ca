// Command fascia proves that a device's screens still look the way their maker approved.
package main

import "os"

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }
