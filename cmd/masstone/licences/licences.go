// Package licences carries the licences of everything that is compiled into the
// program: the modules, Go itself, and what they in turn took from others.
//
// The texts are gathered by
//
//	go run ./cmd/masstone/licences/generate
//
// for every system that is released; a test fails while a module is missing or of
// another version.
package licences

import (
	_ "embed"
	"encoding/json"
	"fmt"
)

// A Module is a part of the program with terms of its own.
type Module struct {
	Module   string   `json:"module" doc:"its path, or go for Go's runtime and library"`
	Version  string   `json:"version"`
	Licences []string `json:"licences" doc:"SPDX names of the terms found in the texts"`
	Texts    []Text   `json:"texts,omitempty" doc:"with --texts"`
}

// A Text is a licence or notice as its authors wrote it.
type Text struct {
	File string `json:"file" doc:"where it stands in the module"`
	Text string `json:"text"`
}

// gathered is what generate wrote.
//
//go:embed gathered.json
var gathered []byte

// All are the modules in order of their paths, Go first.
func All() ([]Module, error) {
	var all []Module
	if err := json.Unmarshal(gathered, &all); err != nil {
		return nil, fmt.Errorf("licences: gathered.json: %w", err)
	}
	return all, nil
}
