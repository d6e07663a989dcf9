package main

import (
	"encoding/json"
	"maps"
	"regexp"
	"slices"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/spf13/cobra"
)

// checkDocumented is the script command
//
//	documented ARGS...
//
// masstone ARGS --json must print JSON whose keys, at every depth, the help of
// the command names, or the help of a command that this one refers to.
func checkDocumented(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) == 0 {
		ts.Fatalf("usage: documented ARGS...")
	}
	code, stdout, stderr := masstone(ts, append(args, "--json")...)
	if code != exitDone {
		ts.Fatalf("exit code %d; stderr: %s", code, stderr)
	}
	var v any
	if err := json.Unmarshal([]byte(stdout), &v); err != nil {
		ts.Fatalf("stdout is no JSON: %v", err)
	}
	root := newRootCommand(&Env{})
	cmd, _, err := root.Find(args)
	ts.Check(err)
	help := wordsOf(keysHelp(root, cmd, 2))
	unknown := map[string]bool{}
	undocumented(v, "", help, unknown)
	if len(unknown) > 0 {
		ts.Fatalf("%s --help does not name %s", cmd.CommandPath(), strings.Join(slices.Sorted(maps.Keys(unknown)), ", "))
	}
}

var commandNamed = regexp.MustCompile(`"([a-z ]+)"`)

// keysHelp is what a command says of its keys, with what the commands say that
// it refers to.
func keysHelp(root, cmd *cobra.Command, depth int) string {
	_, text, _ := strings.Cut(cmd.Long, "JSON keys")
	text = strings.Join(strings.Fields(text), " ") // a name may be broken over two lines
	if depth == 0 {
		return text
	}
	for _, m := range commandNamed.FindAllStringSubmatch(text, -1) {
		if other, rest, err := root.Find(strings.Fields(m[1])); err == nil && len(rest) == 0 && other != root {
			text += " " + keysHelp(root, other, depth-1)
		}
	}
	return text
}

func wordsOf(text string) map[string]bool {
	words := map[string]bool{}
	for _, w := range regexp.MustCompile(`\w+`).FindAllString(text, -1) {
		words[w] = true
	}
	return words
}

// keyed are the keys that hold values by code, light or kind of record.
var keyed = regexp.MustCompile(`^(.*_phr|phr|grams|lots|limits|metamerism|slip_dE00|by_light|added|colors|names|drops)$`)

func undocumented(v any, under string, help map[string]bool, unknown map[string]bool) {
	switch x := v.(type) {
	case map[string]any:
		for key, inner := range x {
			if len(key) > 1 && !keyed.MatchString(under) && !help[key] {
				unknown[key] = true
			}
			undocumented(inner, key, help, unknown)
		}
	case []any:
		for _, inner := range x {
			undocumented(inner, "", help, unknown)
		}
	}
}
