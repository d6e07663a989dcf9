package postgres

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"net"
	"strings"
	"syscall"

	"github.com/jackc/pgx/v5/pgconn"

	"masstone/recipes/archive/engine"
)

// says is what the server's complaint comes to: its kind, and what to do.
func (d *DB) says(kind error, format string, a ...any) error {
	return says(d.shown, kind, format, a...)
}

func says(shown string, kind error, format string, a ...any) error {
	return fmt.Errorf("%s: %w: %s", shown, kind, fmt.Sprintf(format, a...))
}

// gone tells whether an error says that the server or the connection to it is not
// there, now.
func gone(err error) bool {
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		return strings.HasPrefix(pg.Code, "57P") || strings.HasPrefix(pg.Code, "08")
	}
	var connecting *pgconn.ConnectError
	if errors.As(err, &connecting) {
		return !mistrusted(err)
	}
	var network *net.OpError
	for _, end := range []error{io.EOF, io.ErrUnexpectedEOF, net.ErrClosed, syscall.ECONNRESET, syscall.EPIPE, driver.ErrBadConn} {
		if errors.Is(err, end) {
			return true
		}
	}
	return errors.As(err, &network) || (err != nil && strings.HasSuffix(err.Error(), "conn closed"))
}

// undone tells whether the server undid a transaction for the sake of another: the
// two cannot have followed each other, or each waited for the other.
func undone(err error) bool {
	var pg *pgconn.PgError
	return errors.As(err, &pg) && (pg.Code == "40001" || pg.Code == "40P01")
}

// mistrusted tells whether the certificate of a server is the trouble, or that it
// has none.
func mistrusted(err error) bool {
	var authority x509.UnknownAuthorityError
	var name x509.HostnameError
	var certificate *tls.CertificateVerificationError
	return errors.As(err, &authority) || errors.As(err, &name) || errors.As(err, &certificate) || plainOnly(err)
}

func plainOnly(err error) bool { return strings.Contains(err.Error(), "server refused TLS connection") }

// Explain turns what the server or the way to it reports into a line that says what
// to do. Other errors pass through.
func (d *DB) Explain(err error) error {
	if err == nil {
		return nil
	}
	var pg *pgconn.PgError
	var connecting *pgconn.ConnectError
	role := d.config.User
	switch {
	case errors.As(err, &pg):
		return d.explain(err, pg, errors.As(err, &connecting))
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded) && !errors.As(err, &connecting):
		return err
	case errors.As(err, &connecting) && plainOnly(err):
		return d.says(engine.ErrAway, "the server does not encrypt; have it set up for TLS, or say ?sslmode=disable where the way to it is safe")
	case errors.As(err, &connecting) && mistrusted(err):
		return d.says(engine.ErrAway, "its certificate is not to be trusted; name the authority with ?sslrootcert=FILE")
	case errors.As(err, &connecting):
		return d.says(engine.ErrAway, "nothing answers for role %q at %s (%s); see that the server runs and that the address is right", role, d.host(), cause(err))
	case gone(err):
		return d.says(engine.ErrLost, "nothing was changed; try again")
	}
	return err
}

// cause is the innermost of an error, in one line.
func cause(err error) string {
	var network *net.OpError
	var name *net.DNSError
	switch {
	case errors.As(err, &name):
		return "no such host"
	case errors.As(err, &network) && network.Timeout(), errors.Is(err, context.DeadlineExceeded):
		return "no answer in time"
	case errors.Is(err, syscall.ECONNREFUSED):
		return "connection refused"
	case errors.Is(err, syscall.ENOENT):
		return "no such socket"
	case errors.As(err, &network):
		return network.Err.Error()
	}
	return "no connection"
}

func (d *DB) explain(err error, pg *pgconn.PgError, connecting bool) error {
	role := d.config.User
	switch {
	case pg.Code == "28P01":
		return d.says(engine.ErrAway, "the server does not take the password for role %q; put the right one into PGPASSWORD or the file .pgpass", role)
	case strings.HasPrefix(pg.Code, "28"):
		return d.says(engine.ErrAway, "the server does not let role %q in (%s); have its pg_hba.conf and the role looked at", role, pg.Message)
	case pg.Code == "3D000":
		return d.says(engine.ErrNoBench, "the server has no database %q; have it made with createdb, or name another", d.config.Database)
	case pg.Code == "0A000" && strings.Contains(pg.Message, "standby"):
		return d.says(engine.ErrReadOnly, "the server only follows another one (%s); name the one that it follows", pg.Message)
	case pg.Code == "42501", pg.Code == "25006":
		return d.says(engine.ErrReadOnly, "role %q may not do that (%s); ask who owns it, or come as another role", role, pg.Message)
	case pg.Code == "55P03":
		return d.says(engine.ErrBusy, "another program is writing; wait for it and try again, nothing was changed")
	case undone(err):
		return engine.Undo(d.says(engine.ErrBusy, "another program is writing; wait for it and try again, nothing was changed"))
	case pg.Code == "53300":
		return d.says(engine.ErrBusy, "the server has no connection left; close a program that uses it and try again")
	case strings.HasPrefix(pg.Code, "53"):
		return d.says(engine.ErrFull, "the server has no room (%s); have some made and try again, nothing was changed", pg.Message)
	case strings.HasPrefix(pg.Code, "57P"), strings.HasPrefix(pg.Code, "08"):
		return d.says(engine.ErrLost, "nothing was changed (%s); try again", pg.Message)
	case pg.Code == "22021", pg.Code == "22P05", pg.Code == "22P02":
		return d.says(engine.ErrInvalid, "a text holds what is no letter or sign (%s); write it anew", pg.Message)
	case pg.Code == "42704" && connecting, pg.Code == "22023" && connecting:
		return d.says(engine.ErrInvalid, "the server does not know what follows the ? in the address (%s); mend it", pg.Message)
	case strings.HasPrefix(pg.Code, "54"):
		return d.says(engine.ErrInvalid, "a name or text is too long for the server (%s); shorten it, nothing was changed", pg.Message)
	case strings.HasPrefix(pg.Code, "42P"), pg.Code == "3F000":
		return d.says(engine.ErrNotBench, "a part of it is missing (%s); have its backup restored", pg.Message)
	case strings.HasPrefix(pg.Code, "XX"), strings.HasPrefix(pg.Code, "58"):
		return d.says(engine.ErrDamaged, "the server says %s; have its backup restored", pg.Message)
	}
	return err
}
