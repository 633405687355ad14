package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"offbeat/cmd/internal/streams"
	"offbeat/compare/report/schema"
)

// schemaCommand is the topic that prints what the program's JSON holds: JSON Schema alone, to be handed to a program.
func schemaCommand(s *streams.Streams) *cobra.Command {
	c := worded("json", nil)
	c.SetHelpFunc(func(*cobra.Command, []string) {
		if text, err := schema.JSON(true); err == nil { // a test compiles it
			fmt.Fprintln(s.Out, string(text))
		}
	})
	return c
}
