package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
)

// ownWords gives the options that the library adds the program's own words, in a command and those below it.
func ownWords(c *cobra.Command) {
	c.InitDefaultHelpFlag()
	c.InitDefaultVersionFlag()
	for name, text := range map[string]string{"help": "show this page", "version": "print the version"} {
		if f := c.Flags().Lookup(name); f != nil {
			f.Usage = text
		}
	}
	for _, s := range c.Commands() {
		ownWords(s)
	}
}

// usagePage writes how a command is typed, its examples, commands, topics and options, under the headings of a manual page.
func usagePage(c *cobra.Command) error {
	var b strings.Builder
	section := func(heading, body string) {
		if body != "" {
			fmt.Fprintf(&b, "%s\n%s\n\n", heading, strings.TrimRight(body, "\n"))
		}
	}
	section("SYNOPSIS", ways(c))
	section("EXAMPLES", c.Example)
	section("COMMANDS", listed(c, func(s *cobra.Command) bool { return s.IsAvailableCommand() || s.Name() == "help" }))
	section("TOPICS", listed(c, func(s *cobra.Command) bool { return s.IsAdditionalHelpTopicCommand() && !s.Hidden }))
	section("OPTIONS", c.LocalFlags().FlagUsages())
	if c.HasSubCommands() {
		of := strings.TrimPrefix(c.CommandPath()+" ", "offbeat ")
		fmt.Fprintf(&b, "offbeat help %sNAME shows the page of one.\n", of)
	}
	_, err := fmt.Fprint(c.OutOrStderr(), strings.TrimRight(b.String(), "\n")+"\n")
	return err
}

// ways are the ways in which a command is typed.
func ways(c *cobra.Command) string {
	var lines []string
	if c.Runnable() && c.HasParent() {
		line := c.CommandPath() + strings.TrimPrefix(c.Use, c.Name())
		if c.HasAvailableLocalFlags() {
			line += " [OPTIONS]"
		}
		lines = append(lines, "  "+line)
	}
	if c.HasAvailableSubCommands() {
		lines = append(lines, "  "+c.CommandPath()+" COMMAND [OPTIONS]")
	}
	return strings.Join(lines, "\n")
}

// listed names the commands below one that are of a kind, with what each does.
func listed(c *cobra.Command, is func(*cobra.Command) bool) string {
	widest := 0
	for _, s := range c.Commands() {
		if is(s) {
			widest = max(widest, len(s.Name()))
		}
	}
	var b strings.Builder
	for _, s := range c.Commands() {
		if is(s) {
			fmt.Fprintf(&b, "  %-*s  %s\n", widest, s.Name(), s.Short)
		}
	}
	return b.String()
}
