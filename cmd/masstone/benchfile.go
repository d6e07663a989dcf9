package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"

	"masstone/recipes/workbench"
)

// benchPath is where the bench is, and whether it was found lying in the
// working folder rather than named.
func (e *Env) benchPath() (path string, lying bool, err error) {
	if e.Bench != "" {
		return e.benchAt(e.Bench), false, nil
	}
	if named := e.Getenv("MASSTONE_BENCH"); named != "" {
		return e.benchAt(named), false, nil
	}
	usual, err := e.usualBench()
	if err != nil {
		return "", false, err
	}
	if _, err := os.Stat(usual); errors.Is(err, os.ErrNotExist) {
		if here := e.benchesHere(); len(here) == 1 {
			return here[0], true, nil
		} else if len(here) > 1 {
			return "", false, fmt.Errorf("which bench? several are here; say --bench %s, or set MASSTONE_BENCH", quoted(filepath.Base(here[0])))
		}
	}
	return usual, false, nil
}

// benchAt is the bench of a name: a file, or the address of a database.
func (e *Env) benchAt(name string) string {
	if workbench.InDatabase(name) {
		return name
	}
	return e.path(name)
}

// usualBench is the bench of the user's data folder.
func (e *Env) usualBench() (string, error) {
	if data := e.Getenv("XDG_DATA_HOME"); filepath.IsAbs(data) {
		return filepath.Join(data, "masstone", "bench.db"), nil
	}
	if runtime.GOOS == "windows" || runtime.GOOS == "darwin" {
		data, err := os.UserConfigDir()
		if err != nil {
			return "", fmt.Errorf("no user data folder (%w); say --bench FILE or set MASSTONE_BENCH", err)
		}
		return filepath.Join(data, "masstone", "bench.db"), nil
	}
	home := e.Getenv("HOME")
	if home == "" {
		return "", errors.New("no user data folder, HOME is not set; say --bench FILE or set MASSTONE_BENCH")
	}
	return filepath.Join(home, ".local", "share", "masstone", "bench.db"), nil
}

// benchesHere lists the files of the working folder that begin as SQLite
// databases do and are named *.db.
func (e *Env) benchesHere() []string {
	var found []string
	names, _ := filepath.Glob(e.path("*.db"))
	for _, name := range names {
		f, err := os.Open(name)
		if err != nil {
			continue
		}
		head := make([]byte, 16)
		if n, _ := f.Read(head); bytes.Equal(head[:n], []byte("SQLite format 3\x00")) {
			found = append(found, name)
		}
		f.Close()
	}
	return found
}
