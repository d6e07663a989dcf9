package main

import (
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const readmeFile = "../../README.md"

// readmeSection is what the README says under a heading.
func readmeSection(heading string) (string, error) {
	text, err := os.ReadFile(readmeFile)
	if err != nil {
		return "", err
	}
	_, after, found := strings.Cut(string(text), "\n## "+heading+"\n")
	if !found {
		return "", fmt.Errorf("README has no section %q", heading)
	}
	section, _, _ := strings.Cut(after, "\n## ")
	return section, nil
}

// commandLine is a line of an indented block, or a piece of text set as code,
// that calls the program.
var commandLine = regexp.MustCompile("(?m)^    (masstone .*)$|`(masstone [^`]+)`")

// word is one word of a command line, quoted or not; what follows # is talk.
var word = regexp.MustCompile(`"[^"]*"|#.*|[^\s"]+`)

// readmeCommands are the command lines of a section, each in words without the
// program's name.
func readmeCommands(section string) [][]string {
	var all [][]string
	for _, m := range commandLine.FindAllStringSubmatch(section, -1) {
		var words []string
		for _, w := range word.FindAllString(m[1]+m[2], -1) {
			if strings.HasPrefix(w, "#") {
				break
			}
			words = append(words, strings.Trim(w, `"`))
		}
		all = append(all, words[1:])
	}
	return all
}

// runReadme is the script command
//
//	readme SECTION
//
// Every command line of the README under that heading must run.
func runReadme(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: readme SECTION")
	}
	section, err := readmeSection(args[0])
	ts.Check(err)
	commands := readmeCommands(section)
	if len(commands) == 0 {
		ts.Fatalf("no command line under %q", args[0])
	}
	for _, c := range commands {
		if c[0] == "serve" { // it does not end; the tests of serve run it
			continue
		}
		ts.Logf("masstone %s", commandText(c))
		switch code, stdout, stderr := masstone(ts, c...); {
		case code != exitDone:
			ts.Fatalf("masstone %s: exit code %d; stderr: %s", commandText(c), code, stderr)
		case stdout == "":
			ts.Fatalf("masstone %s printed nothing", commandText(c))
		}
	}
}

// The README's table of commands is that of the help, group by group.
func TestReadmeListsCommands(t *testing.T) {
	section, err := readmeSection("Commands")
	require.NoError(t, err)
	root := newRootCommand(&Env{})
	root.InitDefaultCompletionCmd() // else it is there only once a command runs
	for _, g := range root.Groups() {
		head := strings.ToLower(strings.TrimSuffix(g.Title, ":"))
		_, row, found := strings.Cut(section, "| "+head+" |")
		require.True(t, found, head)
		row, _, _ = strings.Cut(row, "\n")
		listed := map[string]bool{}
		for _, m := range regexp.MustCompile("`([a-z]+)`").FindAllStringSubmatch(row, -1) {
			listed[m[1]] = true
		}
		for _, c := range root.Commands() {
			if c.GroupID == g.ID {
				assert.True(t, listed[c.Name()], "%s lacks %s", head, c.Name())
				delete(listed, c.Name())
			}
		}
		assert.Empty(t, listed, "%s lists what is no command", head)
	}
	whole, err := os.ReadFile(readmeFile)
	require.NoError(t, err)
	for _, name := range []string{"MASSTONE_BENCH", "MASSTONE_SHOP", "MASSTONE_PASSCODE"} {
		assert.Contains(t, string(whole), name)
	}
}
