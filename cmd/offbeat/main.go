// Offbeat reads what the bench recorded of an RC-timed pulse circuit and says which part has moved.
package main

import (
	"os"

	"offbeat/cmd/internal/cli"
	"offbeat/cmd/internal/streams"
)

func main() {
	os.Exit(cli.Main(os.Args[1:], streams.System()))
}
