package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"slices"
	"strings"
)

// systems are those that are released, as GOOS/GOARCH. The same list stands in
// .ci/release.
var systems = []string{"linux/amd64", "linux/arm64", "darwin/amd64", "darwin/arm64", "windows/amd64", "windows/arm64"}

// A module that is compiled into the program.
type module struct {
	version, dir string
	packages     []string // the folders of those in use
}

// compiled are the modules that any released system compiles into the program,
// by path.
func compiled() (map[string]*module, error) {
	all := map[string]*module{}
	for _, system := range systems {
		goos, goarch, _ := strings.Cut(system, "/")
		cmd := exec.Command("go", "list", "-deps", "-json=Dir,Module", "masstone/cmd/masstone")
		cmd.Env = append(os.Environ(), "GOOS="+goos, "GOARCH="+goarch, "CGO_ENABLED=0")
		cmd.Stderr = os.Stderr
		pipe, err := cmd.StdoutPipe()
		if err != nil {
			return nil, err
		}
		if err := cmd.Start(); err != nil {
			return nil, err
		}
		for d := json.NewDecoder(pipe); ; {
			var p struct {
				Dir    string
				Module *struct {
					Path, Version, Dir string
					Main               bool
				}
			}
			if err := d.Decode(&p); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				return nil, fmt.Errorf("go list for %s: %w", system, err)
			}
			if p.Module == nil || p.Module.Main {
				continue
			}
			m := all[p.Module.Path]
			if m == nil {
				m = &module{version: p.Module.Version, dir: p.Module.Dir}
				all[p.Module.Path] = m
			}
			if !slices.Contains(m.packages, p.Dir) {
				m.packages = append(m.packages, p.Dir)
			}
		}
		if err := cmd.Wait(); err != nil {
			return nil, fmt.Errorf("go list for %s: %w", system, err)
		}
	}
	return all, nil
}
