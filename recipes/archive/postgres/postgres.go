// Package postgres keeps a bench in a schema of a PostgreSQL database: how it is
// reached, how its transactions take turns, what its tables are, and what the
// server's complaints come to. What a record is it does not know.
//
// # Address
//
//	postgres://ada@db.example.com/shop
//
// names the server, the role and the database; the bench is in the schema masstone
// of it, or in the one that ?search_path= names. Passwords come from PGPASSWORD or
// the file .pgpass, and are shown nowhere. Outside the machine itself the
// connection is encrypted, or refused, unless ?sslmode= says otherwise.
//
// # Transactions
//
// One that writes is serializable: it is undone, to be done again, if it cannot have
// come wholly before or after each of the others. That it seldom is, it takes the lock of
// the table turn before it looks at anything: writers follow each other, and numbers have
// no gaps. One that reads sees the bench as of one moment (repeatable read), which is
// as some writer left it.
// A change tells whoever listens, see Watch.
package postgres

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"net/netip"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"

	"masstone/recipes/archive/engine"
)

// oldestServer is the first version whose functions keep to what they were made
// of, whatever the search path.
const oldestServer = 140000

// longestSchema leaves room for an addition in the 63 bytes that the server keeps of
// a name, see schemaMade.
const longestSchema = 50

const noAddress = "it is no address of a database; write it as postgres://ROLE@HOST/DATABASE"

// Names tells whether a bench's name is an address rather than a file, be it a
// mistyped one: that is refused, and its password not taken for a part of a file's
// name.
func Names(path string) bool { return addressed.MatchString(path) }

var addressed = regexp.MustCompile(`^[[:alpha:]][[:alnum:]+.-]+:/`) // C:/ is a folder

// Shown is an address without its password.
func Shown(address string) string {
	u, err := url.Parse(address)
	if err != nil || u.User == nil && strings.Contains(u.Path+u.Fragment, "@") || u.Host+u.Path == "" {
		scheme, _, _ := strings.Cut(address, ":")
		return scheme + "://..."
	}
	if u.User != nil {
		u.User = url.User(u.User.Username())
	}
	if q := u.Query(); q.Has("password") || q.Has("sslpassword") {
		q.Del("password")
		q.Del("sslpassword")
		u.RawQuery = q.Encode()
	}
	return u.String()
}

// A DB is an open bench.
type DB struct {
	shown  string
	db     *sql.DB
	wait   time.Duration
	config *pgx.ConnConfig
	schema string
}

// Pool is the connections that transactions are made on.
func (d *DB) Pool() *sql.DB { return d.db }

func (d *DB) Close() error { return d.db.Close() }

// connect gets ready to open the bench at an address; wait is how long transactions
// queue for their turn. Nothing is looked at yet.
func connect(address string, wait time.Duration) (*DB, error) {
	invalid := func(format string, a ...any) error { return says(Shown(address), engine.ErrInvalid, format, a...) }
	if scheme, _, is := strings.Cut(address, "://"); !is || scheme != "postgres" && scheme != "postgresql" {
		return nil, invalid(noAddress)
	}
	config, err := pgx.ParseConfig(address)
	if err == nil && !loopback(config) && undecided(config) {
		var u *url.URL
		if u, err = url.Parse(address); err == nil && !u.Query().Has("sslmode") {
			q := u.Query()
			q.Set("sslmode", "require")
			u.RawQuery = q.Encode()
			config, err = pgx.ParseConfig(u.String())
		}
	}
	switch _, unread := url.Parse(address); {
	case err != nil && unread == nil: // it is what follows the ?
		_, why, _ := strings.Cut(err.Error(), "`: ")
		return nil, invalid("%s; mend what follows the ? in the address", strings.Join(strings.Fields(why), " "))
	case err != nil:
		return nil, invalid(noAddress)
	case config.Database == "":
		return nil, invalid("it names no database; write it as postgres://ROLE@HOST/DATABASE")
	}
	d := &DB{shown: Shown(address), wait: wait, config: config, schema: "masstone"}
	if named := config.RuntimeParams["search_path"]; named != "" {
		d.schema = strings.Trim(named, `"`)
	}
	if strings.ContainsAny(d.schema, `,"'$`) || strings.HasPrefix(d.schema, "pg_") || len(d.schema) > longestSchema {
		return nil, invalid("search_path names the schema that holds the bench; give one name without quotes, of at most %d letters", longestSchema)
	}
	for name, value := range map[string]string{
		"search_path":      d.quoted(),
		"application_name": "masstone",
		"timezone":         "UTC",
		"lock_timeout":     strconv.FormatInt(wait.Milliseconds(), 10),
		"jit":              "off", // half a second for a query that takes one thousandth
		// A machine that is gone without a word lets go of its turn.
		"tcp_keepalives_idle":     "30",
		"tcp_keepalives_interval": "10",
		"tcp_keepalives_count":    "3",
	} {
		config.RuntimeParams[name] = value
	}
	if config.ConnectTimeout == 0 {
		config.ConnectTimeout = wait
	}
	return d, nil
}

func (d *DB) quoted() string { return pgx.Identifier{d.schema}.Sanitize() }

// undecided tells whether a connection would be encrypted or not as the server likes,
// which is what there is if nobody says anything.
func undecided(c *pgx.ConnConfig) bool {
	return c.TLSConfig != nil && slices.ContainsFunc(c.Fallbacks, func(f *pgconn.FallbackConfig) bool { return f.TLSConfig == nil })
}

// loopback tells whether a server is reached without leaving the machine.
func loopback(c *pgx.ConnConfig) bool {
	local := func(host string) bool {
		addr, err := netip.ParseAddr(host)
		return strings.HasPrefix(host, "/") || strings.HasPrefix(host, "@") || host == "localhost" || (err == nil && addr.IsLoopback())
	}
	for _, f := range c.Fallbacks {
		if !local(f.Host) {
			return false
		}
	}
	return local(c.Host)
}

// Open opens the bench at an address, or makes it. One of an older schema is migrated
// first.
func Open(ctx context.Context, address string, o engine.Options) (engine.DB, error) {
	d, err := connect(address, o.Wait)
	if err != nil {
		return nil, err
	}
	if err := d.migrate(ctx, o.Create); err != nil {
		return nil, d.Explain(err)
	}
	if err := d.open(ctx); err != nil {
		d.Close()
		return nil, d.Explain(err)
	}
	return d, nil
}

// open opens the bench for transactions. Each connection holds a share of the lock
// of its schema, so that no program changes the schema of a bench in use.
func (d *DB) open(ctx context.Context) error {
	d.db = stdlib.OpenDB(*d.config, stdlib.OptionAfterConnect(func(ctx context.Context, c *pgx.Conn) error {
		_, err := c.Exec(ctx, `SELECT pg_advisory_lock_shared($1, hashtext($2))`, lockClass, d.schema)
		return err
	}))
	d.db.SetMaxOpenConns(8)
	return d.db.PingContext(ctx)
}

// lockClass is the class of the advisory locks that schemas have: MSTN in ASCII.
const lockClass = 0x4d53544e

// Begin starts a transaction, see the package comment. While nothing was done yet a
// server that is away for a moment is waited for.
func (d *DB) Begin(ctx context.Context, write bool) (tx *sql.Tx, end func(), err error) {
	options := sql.TxOptions{Isolation: sql.LevelRepeatableRead} // not read-only: exporting fills a temporary table
	if write {
		options.Isolation = sql.LevelSerializable
	}
	until, pause := time.Now().Add(d.wait), 20*time.Millisecond
	for {
		tx, err := d.db.BeginTx(ctx, &options)
		if err == nil && write {
			// A transaction sees what was there at its first query; this is none.
			_, err = tx.ExecContext(ctx, `LOCK TABLE turn IN EXCLUSIVE MODE`)
		} else if err == nil {
			_, err = tx.ExecContext(ctx, `SELECT 1`) // the moment it sees, and whether the connection lives
		}
		if err == nil {
			return tx, func() { tx.Rollback() }, nil
		}
		if tx != nil {
			tx.Rollback()
		}
		if !gone(err) || time.Now().After(until) || ctx.Err() != nil {
			return nil, nil, err
		}
		select {
		case <-ctx.Done():
			return nil, nil, err
		case <-time.After(rand.N(pause)):
		}
		pause = min(2*pause, time.Second)
	}
}

// Dialect numbers the parameters of a query: ? by their order, ?1 as it says.
func (d *DB) Dialect(query string) string {
	if !strings.Contains(query, "?") {
		return query
	}
	var b strings.Builder
	n, quoted := 0, false
	for i := 0; i < len(query); i++ {
		c := query[i]
		quoted = quoted != (c == '\'')
		if c != '?' || quoted {
			b.WriteByte(c)
			continue
		}
		b.WriteByte('$')
		if i+1 == len(query) || query[i+1] < '1' || query[i+1] > '9' {
			n++
			b.WriteString(strconv.Itoa(n))
		}
	}
	return b.String()
}

// Now is the server's time, so that stamps follow each other whoever writes.
func (d *DB) Now(ctx context.Context, tx *sql.Tx) (now time.Time, err error) {
	err = tx.QueryRowContext(ctx, `SELECT clock_timestamp()`).Scan(&now)
	return now, err
}

func (d *DB) Words(words []string) (condition, parameter string) {
	return `lexemes @@ beginnings(?)`, strings.Join(words, " ")
}

func (d *DB) Defer(ctx context.Context, tx *sql.Tx) error {
	// A table that was empty when its rows were last counted is read from end to end
	// for every record, however many a transaction adds to it.
	if _, err := tx.ExecContext(ctx, `SET LOCAL enable_seqscan = off`); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, `SET CONSTRAINTS ALL DEFERRED`)
	return err
}

// Committed looks whether a commit took place whose answer was lost. It takes the
// turn to do so, which the transaction held until its end.
func (d *DB) Committed(failed error, count string, args ...any) error {
	if !gone(failed) && !errors.Is(failed, context.Canceled) && !errors.Is(failed, context.DeadlineExceeded) {
		return d.Explain(failed)
	}
	ctx := context.Background()
	tx, end, err := d.Begin(ctx, true)
	if err == nil {
		defer end()
		found := 0
		if err = tx.QueryRowContext(ctx, count, args...).Scan(&found); err == nil && found == 1 {
			return nil
		}
	}
	if err != nil {
		unsure := engine.Reword(engine.ErrUnsure, "the connection was lost while a change was stored")
		return fmt.Errorf("%s: %w, which may be there or not; when the server is back, look before you do it again", d.shown, unsure)
	}
	return d.Explain(failed)
}

// Place is a database, which is restored by the server's own programs.
func (*DB) Place() (name, back string) {
	return "database", "restore its backup into another database with pg_restore"
}

// Backup is the server's business.
func (d *DB) Backup(context.Context, string, func(engine.Queryer) error) error {
	return engine.NotFile("backup", d.shown, "backed up by pg_dump")
}

// Tables names the tables of the bench.
func (d *DB) Tables() string {
	return `SELECT relname FROM pg_class WHERE relnamespace = quote_ident(current_schema())::regnamespace AND relkind = 'r'`
}

// Pages leaves the pages to the server, which has checksums of its own.
func (d *DB) Pages(context.Context, *sql.Tx, func(string)) error { return nil }

// Dangling finds rows that refer to a row of parent that is not there.
func (d *DB) Dangling(ctx context.Context, tx *sql.Tx, found func(table string, row int64, parent string)) error {
	type reference struct{ table, parent, query string }
	var all []reference
	rows, err := tx.QueryContext(ctx, `SELECT child.relname, parent.relname,
			(SELECT string_agg(format('p.%I = c.%I', p.attname, c.attname), ' AND ') FROM unnest(conkey, confkey) AS k (c, p)
				JOIN pg_attribute c ON c.attrelid = conrelid AND c.attnum = k.c JOIN pg_attribute p ON p.attrelid = confrelid AND p.attnum = k.p),
			(SELECT string_agg(format('c.%I IS NOT NULL', attname), ' AND ') FROM pg_attribute WHERE attrelid = conrelid AND attnum = ANY (conkey)),
			EXISTS (SELECT 1 FROM pg_attribute WHERE attrelid = conrelid AND attname = 'id')
		FROM pg_constraint JOIN pg_class child ON child.oid = conrelid JOIN pg_class parent ON parent.oid = confrelid
		WHERE contype = 'f' AND connamespace = quote_ident(current_schema())::regnamespace ORDER BY 1, 2`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var r reference
		var same, set string
		var numbered bool
		if err := rows.Scan(&r.table, &r.parent, &same, &set, &numbered); err != nil {
			return err
		}
		id := "0"
		if numbered {
			id = "c.id"
		}
		r.query = fmt.Sprintf("SELECT %s FROM %s c WHERE %s AND NOT EXISTS (SELECT 1 FROM %s p WHERE %s) ORDER BY 1 LIMIT 100",
			id, pgx.Identifier{r.table}.Sanitize(), set, pgx.Identifier{r.parent}.Sanitize(), same)
		all = append(all, r)
	}
	if err := rows.Err(); err != nil {
		return err
	}
	for _, r := range all {
		if err := engine.EachRow(ctx, tx, func(rows *sql.Rows) error {
			var id int64
			err := rows.Scan(&id)
			found(r.table, id, r.parent)
			return err
		}, r.query); err != nil {
			return err
		}
	}
	return nil
}

// host is where the server is, for people.
func (d *DB) host() string {
	if strings.HasPrefix(d.config.Host, "/") {
		return d.config.Host
	}
	return net.JoinHostPort(d.config.Host, strconv.Itoa(int(d.config.Port)))
}
