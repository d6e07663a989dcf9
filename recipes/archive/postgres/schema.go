package postgres

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"regexp"
	"strings"
	"sync"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"

	"masstone/recipes/archive/engine"
)

// Migrations are the steps of the schema.
//
//go:embed migrations/*.sql
var Migrations embed.FS

// migrate brings the schema to that of this program.
func (d *DB) migrate(ctx context.Context, create bool) error {
	db := stdlib.OpenDB(*d.config)
	defer db.Close()
	db.SetMaxOpenConns(1) // its lock is the connection's
	steps, err := d.steps(db)
	if err != nil {
		return err
	}
	if err := d.usable(ctx, db); err != nil {
		return err
	}
	if done, err := d.fits(ctx, db, steps, create); done || err != nil {
		return err
	}
	// Again under the lock that keeps others out.
	if _, err := db.ExecContext(ctx, `SELECT pg_advisory_lock($1, hashtext($2))`, lockClass, d.schema); err != nil {
		return err
	}
	if done, err := d.fits(ctx, db, steps, create); done || err != nil {
		return err
	}
	if create {
		if _, err := db.ExecContext(ctx, `DO $$ BEGIN
			IF to_regnamespace('`+d.quoted()+`') IS NULL THEN CREATE SCHEMA `+d.quoted()+`; END IF; END $$`); err != nil {
			return err
		}
	}
	_, err = steps.Up(ctx)
	return err
}

// steps are those of the schema, each with its text as step gives it.
func (d *DB) steps(db *sql.DB) (*goose.Provider, error) {
	names, err := fs.Glob(Migrations, "migrations/*.sql")
	if err != nil {
		return nil, err
	}
	all := make([]*goose.Migration, len(names))
	for i, name := range names {
		version, err := goose.NumericComponent(name)
		if err != nil {
			return nil, err
		}
		all[i] = goose.NewGoMigration(version, &goose.GoFunc{RunTx: func(ctx context.Context, tx *sql.Tx) error {
			text, err := d.step(name)
			if err == nil {
				_, err = tx.ExecContext(ctx, text)
			}
			return err
		}}, nil)
	}
	return engine.Steps(goose.DialectPostgres, db, nil, all...)
}

// misread are the names that regnamespace takes for others, unless they are quoted:
// with capitals, with dots, with blanks around, and numbers.
var misread = regexp.MustCompile(`[A-Z.]|^\s|\s$|^[0-9]+$|^-$`)

// step is what a step says. The first ones ask for the current schema without quoting
// its name, and no step is edited: those who have such a name get them with quotes.
func (d *DB) step(name string) (string, error) {
	text, err := Migrations.ReadFile(name)
	if err != nil || !misread.MatchString(d.schema) {
		return string(text), err
	}
	return strings.ReplaceAll(string(text), "current_schema()::regnamespace", "quote_ident(current_schema())::regnamespace"), nil
}

// fits tells whether the schema is that of this program, and refuses one that cannot
// be brought to it.
func (d *DB) fits(ctx context.Context, db *sql.DB, steps *goose.Provider, create bool) (done bool, err error) {
	version, err := d.version(ctx, db, steps)
	newest := engine.Newest(steps)
	switch {
	case err != nil:
	case version == 0 && !create:
		err = fmt.Errorf("%s: %w here; make one with %s", d.shown, engine.ErrNoBench, engine.InitVerb(d.shown))
	default:
		err = engine.Fits(version, newest, d.shown, create)
	}
	return version == newest, err
}

// usable refuses a server or database that cannot hold a bench, or a role that may
// not look at the one that is there.
func (d *DB) usable(ctx context.Context, db *sql.DB) error {
	var server int
	var encoding string
	var there, allowed bool
	err := db.QueryRowContext(ctx, `SELECT current_setting('server_version_num')::int, current_setting('server_encoding'),
		EXISTS (SELECT 1 FROM pg_namespace WHERE nspname = $1),
		coalesce((SELECT has_schema_privilege(oid, 'USAGE') FROM pg_namespace WHERE nspname = $1), true)`, d.schema).
		Scan(&server, &encoding, &there, &allowed)
	switch {
	case err != nil:
		return err
	case server < oldestServer:
		return d.says(engine.ErrNotBench, "the server is of version %d and a bench needs %d or later; have it upgraded", server/10000, oldestServer/10000)
	case encoding != "UTF8":
		return d.says(engine.ErrNotBench, "the database is encoded in %s and a bench needs UTF8; have another made with createdb --encoding UTF8 --template template0", encoding)
	case there && !allowed:
		return d.says(engine.ErrReadOnly, "role %q may not use the schema %s; have its owner grant that, as the README says", d.config.User, d.schema)
	}
	return nil
}

// version returns the version of the schema: 0 where nothing was made in it yet, -1
// where another program's tables are there.
func (d *DB) version(ctx context.Context, db *sql.DB, steps *goose.Provider) (int, error) {
	var tables, ours int
	err := db.QueryRowContext(ctx, `SELECT count(*) FILTER (WHERE relname <> 'goose_db_version'), count(*) FILTER (WHERE relname = 'goose_db_version')
		FROM pg_class WHERE relkind IN ('r', 'v', 'p') AND relnamespace = (SELECT oid FROM pg_namespace WHERE nspname = $1)`, d.schema).Scan(&tables, &ours)
	switch {
	case err != nil:
		return 0, err
	case ours == 0 && tables > 0:
		return -1, nil
	case ours == 0:
		return 0, nil
	}
	return engine.Version(ctx, db, steps)
}

// Schema is the schema as the migrations make it, and as it is. want is nil where the
// role may not make one to compare with.
func (d *DB) Schema(ctx context.Context, q engine.Queryer) (want, have map[string]string, err error) {
	defer func() { err = d.Explain(err) }()
	if have, err = described(ctx, q); err != nil {
		return nil, nil, err
	}
	var server string
	var may bool
	if err := q.QueryRowContext(ctx, `SELECT version(), has_database_privilege(current_database(), 'CREATE') AND NOT pg_is_in_recovery()
		AND current_setting('default_transaction_read_only') = 'off'`).Scan(&server, &may); err != nil {
		return nil, nil, err
	}
	key := [2]any{server, misread.MatchString(d.schema)}
	if known, ok := made.Load(key); ok {
		return known.(map[string]string), have, nil
	}
	if !may {
		return nil, have, nil
	}
	if want, err = d.schemaMade(ctx); err == nil {
		made.Store(key, want)
	}
	return want, have, err
}

// made is the schema that the migrations make on each version of the server met, with
// names as they are and quoted.
var made sync.Map

// schemaMade makes the schema under another name, and gives it up again.
func (d *DB) schemaMade(ctx context.Context) (map[string]string, error) {
	tx, err := d.db.BeginTx(ctx, nil)
	if err != nil {
		return nil, err
	}
	defer tx.Rollback()
	steps, err := fs.Glob(Migrations, "migrations/*.sql")
	if err != nil {
		return nil, err
	}
	// One drawn by lot is nobody's, and of the same sort as the one to compare with.
	name := pgx.Identifier{fmt.Sprintf("%s_%012x", d.schema, rand.N[uint64](1<<48))}.Sanitize()
	say := []string{"CREATE SCHEMA " + name, "SET LOCAL search_path = " + name}
	for _, step := range steps {
		text, err := d.step(step)
		if err != nil {
			return nil, err
		}
		say = append(say, text)
	}
	for _, each := range say {
		if _, err := tx.ExecContext(ctx, each); err != nil {
			return nil, err
		}
	}
	return described(ctx, tx)
}

// described is what the current schema consists of.
func described(ctx context.Context, q engine.Queryer) (map[string]string, error) {
	all := map[string]string{}
	return all, engine.EachRow(ctx, q, func(rows *sql.Rows) error {
		var name, text string
		err := rows.Scan(&name, &text)
		all[name] = text
		return err
	}, `WITH ours AS (SELECT oid, relname, relkind FROM pg_class
			WHERE relnamespace = quote_ident(current_schema())::regnamespace AND relname NOT LIKE 'goose_db_version%')
		SELECT 'table ' || relname, string_agg(concat_ws(' ', attname, format_type(atttypid, atttypmod), attcollation, attnotnull, attgenerated,
			pg_get_expr(adbin, adrelid)), ', ' ORDER BY attnum)
		FROM ours JOIN pg_attribute a ON attrelid = ours.oid AND attnum > 0 AND NOT attisdropped
		LEFT JOIN pg_attrdef ON adrelid = attrelid AND adnum = attnum WHERE relkind = 'r' GROUP BY relname
		UNION ALL
		SELECT 'constraint ' || relname || ' ' || conname, pg_get_constraintdef(c.oid, true) || convalidated FROM pg_constraint c JOIN ours ON conrelid = ours.oid
		UNION ALL
		SELECT 'index ' || relname, pg_get_indexdef(oid, 0, true) FROM ours WHERE relkind = 'i'
		UNION ALL
		SELECT 'view ' || relname, pg_get_viewdef(oid, true) FROM ours WHERE relkind = 'v'
		UNION ALL
		SELECT 'trigger ' || relname || ' ' || tgname, pg_get_triggerdef(t.oid, true) || ' ' || tgenabled::text FROM pg_trigger t JOIN ours ON tgrelid = ours.oid WHERE NOT tgisinternal
		UNION ALL
		SELECT 'trigger ' || relname || ' rule ' || rulename, pg_get_ruledef(r.oid, true) FROM pg_rewrite r JOIN ours ON ev_class = ours.oid WHERE relkind = 'r'
		UNION ALL
		SELECT 'function ' || proname, concat_ws(' ', provolatile, replace(prosrc, quote_ident(current_schema()) || '.', ''), pg_get_function_sqlbody(oid)) FROM pg_proc WHERE pronamespace = quote_ident(current_schema())::regnamespace`)
}
