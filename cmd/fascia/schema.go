package main

import (
	"strings"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/suites/schema"
)

func (a *app) schemaCommand() *cobra.Command {
	return &cobra.Command{
		Use:       "schema " + strings.Join(schema.Names(), "|"),
		Short:     "Print the JSON Schema of a file, for editors to complete and check it",
		Example:   "  fascia schema walk > walk.schema.json",
		Args:      cobra.ExactArgs(1),
		ValidArgs: schema.Names(),
		RunE: func(_ *cobra.Command, args []string) error {
			text, err := schema.Get(args[0])
			if err == nil {
				_, err = a.stdout.Write(append(text, '\n'))
			}
			return err
		},
	}
}
