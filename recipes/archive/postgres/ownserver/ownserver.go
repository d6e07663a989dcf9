// Package ownserver starts a PostgreSQL server for tests: one of their own, in a
// temporary folder, that nobody else's data is in. Only tests may use it.
package ownserver

import (
	"bytes"
	"database/sql"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/stdlib"
)

// A Server that was started. It listens on a socket in its folder, and on a port
// of the machine's own that is free.
type Server struct {
	Port    int
	t       testing.TB
	folder  string
	bin     string
	process *os.Process // nil while it does not run
	ended   chan error
	made    atomic.Int64
	copied  string
}

// Start starts a server that ends with the test. The test is skipped where
// PostgreSQL is not installed.
func Start(t testing.TB) *Server {
	t.Helper()
	bin := programs()
	if bin == "" {
		t.Skip("no PostgreSQL here (Debian: apt-get install postgresql); what runs on it is not tested")
	}
	folder, err := os.MkdirTemp("", "pg") // a socket's path must be short
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(folder) })
	s := &Server{t: t, folder: folder, bin: bin}
	init := exec.Command(filepath.Join(bin, "initdb"), "-D", s.data(), "-U", "owner", "--auth=trust", "--encoding=UTF8", "--locale=C", "--no-sync")
	if err := humbly(init, folder); err != nil {
		t.Skipf("PostgreSQL cannot be started here (%v); what runs on it is not tested", err)
	}
	if out, err := init.CombinedOutput(); err != nil {
		t.Skipf("PostgreSQL cannot be started here (%v: %.300s); what runs on it is not tested", err, out)
	}
	t.Cleanup(s.Kill)
	for range 20 { // somebody may take the port before the server does
		if s.Port, err = freePort(); err != nil {
			t.Fatal(err)
		}
		if err = s.start("127.0.0.1"); err == nil {
			if len(s.ask("SHOW server_version_num")) > 5 && s.ask("SHOW server_version_num") >= "150000" {
				s.copied = " STRATEGY file_copy"
			}
			return s
		}
	}
	t.Fatal(err)
	return nil
}

func (s *Server) data() string { return filepath.Join(s.folder, "data") }

// HBA puts lines before the rules of who may come in how, and has them read.
func (s *Server) HBA(lines ...string) {
	s.t.Helper()
	file := filepath.Join(s.data(), "pg_hba.conf")
	old, err := os.ReadFile(file)
	if err == nil {
		err = os.WriteFile(file, []byte(strings.Join(lines, "\n")+"\n"+string(old)), 0o600)
	}
	if err != nil {
		s.t.Fatal(err)
	}
	// Whoever comes once the server has read them is told a later time.
	before := s.ask("SELECT pg_conf_load_time()::text")
	s.Say("SELECT pg_reload_conf()")
	for s.ask("SELECT pg_conf_load_time()::text") == before {
		time.Sleep(5 * time.Millisecond)
	}
}

// ask is what the server's own database answers to a newcomer.
func (s *Server) ask(query string) (answer string) {
	s.t.Helper()
	db, err := sql.Open("pgx", s.Address("owner", "postgres"))
	if err == nil {
		defer db.Close()
		err = db.QueryRow(query).Scan(&answer)
	}
	if err != nil {
		s.t.Fatalf("%s: %v", query, err)
	}
	return answer
}

// Resume starts the server again after Kill, and waits until it answers.
func (s *Server) Resume() {
	s.t.Helper()
	err := s.start("127.0.0.1")
	if err != nil { // somebody has taken the port; the socket is its own
		err = s.start("")
	}
	if err != nil {
		s.t.Fatal(err)
	}
}

// start starts the server and waits until it answers, however long that takes; the
// error is for one that ends instead.
func (s *Server) start(listen string) error {
	cmd := exec.Command(filepath.Join(s.bin, "postgres"), "-D", s.data(), "-k", s.folder, "-p", strconv.Itoa(s.Port), "-c", "listen_addresses="+listen,
		"-c", "fsync=off", "-c", "full_page_writes=off", "-c", "wal_level=minimal", "-c", "max_wal_senders=0", "-c", "autovacuum=off", // no machine dies here
		"-c", "shared_buffers=32MB", "-c", "max_connections=200", "-c", "log_min_messages=fatal")
	var said bytes.Buffer
	cmd.Stderr = &said
	if err := humbly(cmd, s.folder); err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return err
	}
	s.process, s.ended = cmd.Process, make(chan error, 1)
	go func() { s.ended <- cmd.Wait() }()
	for s.try("SELECT 1") != nil {
		select {
		case err := <-s.ended:
			s.process = nil
			return fmt.Errorf("PostgreSQL ended (%v): %.300s", err, said.String())
		case <-time.After(20 * time.Millisecond):
		}
	}
	return nil
}

// Kill ends the server at once, with all that is under way.
func (s *Server) Kill() {
	if s.process == nil {
		return
	}
	s.process.Signal(syscall.SIGQUIT)
	<-s.ended
	s.process = nil
}

// Say has the owner say something to the server's own database.
func (s *Server) Say(statement string) {
	s.t.Helper()
	if err := s.try(statement); err != nil {
		s.t.Fatalf("%s: %v", statement, err)
	}
}

func (s *Server) try(statement string) error {
	db, err := sql.Open("pgx", s.Address("owner", "postgres"))
	if err != nil {
		return err
	}
	defer db.Close()
	_, err = db.Exec(statement)
	return err
}

// Database makes a database, as a copy of another if like is not empty, and returns
// its name.
func (s *Server) Database(like string) string {
	s.t.Helper()
	name := fmt.Sprintf("bench%d", s.made.Add(1))
	if like == "" {
		like = "template1"
	}
	s.Say("CREATE DATABASE " + name + " TEMPLATE " + like + s.copied)
	return name
}

// Dumped makes a database of what the programs that back up and restore say another
// holds.
func (s *Server) Dumped(database string) string {
	s.t.Helper()
	to, file := s.Database(""), s.DumpFile()
	for _, args := range [][]string{{"pg_dump", "--format=custom", "--schema=masstone", "--file=" + file, s.Address("owner", database)},
		{"pg_restore", "--exit-on-error", "--dbname=" + s.Address("owner", to), file}} {
		if out, err := exec.Command(filepath.Join(s.bin, args[0]), args[1:]...).CombinedOutput(); err != nil {
			s.t.Fatalf("%s: %v: %s", args[0], err, out)
		}
	}
	return to
}

// DumpFile is the file that Dumped leaves.
func (s *Server) DumpFile() string { return filepath.Join(s.folder, "dump") }

// Address is where a role finds a database.
func (s *Server) Address(role, database string) string {
	return fmt.Sprintf("postgres://%s@/%s?host=%s&port=%d", url.PathEscape(role), database, url.QueryEscape(s.folder), s.Port)
}

// programs is the folder of the server's programs, of the newest version there is.
func programs() string {
	if path, err := exec.LookPath("initdb"); err == nil {
		if real, err := filepath.EvalSymlinks(path); err == nil {
			return filepath.Dir(real)
		}
	}
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	slices.SortFunc(found, func(a, b string) int { return len(a) - len(b) })
	if len(found) == 0 {
		return ""
	}
	return filepath.Dir(found[len(found)-1])
}

var _ = stdlib.GetDefaultDriver // sql.Open("pgx")
