// Columns answers, in SQL, from the rows of padjig quality export in a column engine: what questions are held against that
// padjig answers from its sums. It is a module of its own, so that the engine is never a part of the program.
//
//	go run . -rows line.parquet
//
// It says "ready" once the rows are in a table of the engine's own, called line, which is kept in a file beside them. Then each line that it reads is
// a query, and each that it writes is how many rows came of it and after how many nanoseconds the last one had come, or what is wrong
// with it.
package main

import (
	"bufio"
	"database/sql"
	"flag"
	"fmt"
	"io"
	"log"
	"os"
	"runtime"
	"strings"
	"time"

	_ "github.com/duckdb/duckdb-go/v2"
)

func main() {
	rows := flag.String("rows", "", "a `FILE` of padjig quality export in Parquet")
	flag.Parse()
	if err := run(*rows, os.Stdin, os.Stdout); err != nil {
		log.Fatal("columns: ", err)
	}
}

func run(rows string, in io.Reader, out io.Writer) error {
	db, err := opened(rows)
	if err != nil {
		return err
	}
	defer db.Close()
	fmt.Fprintln(out, "ready")
	for lines := bufio.NewScanner(in); lines.Scan(); {
		began := time.Now()
		n, err := count(db, lines.Text())
		if took := time.Since(began); err == nil {
			fmt.Fprintln(out, n, took.Nanoseconds())
		} else {
			fmt.Fprintln(out, strings.ReplaceAll(err.Error(), "\n", " "))
		}
	}
	return nil
}

// opened has the rows in a table, in a file that is made where there is none that is newer than they are. What broke off while it
// was made is no such file.
func opened(rows string) (*sql.DB, error) {
	from, err := os.Stat(rows)
	if err != nil {
		return nil, err
	}
	path := strings.TrimSuffix(rows, ".parquet") + ".columns"
	if made, err := os.Stat(path); err != nil || made.ModTime().Before(from.ModTime()) {
		if err := load(path+".new", rows); err != nil {
			return nil, err
		}
		if err := os.Rename(path+".new", path); err != nil {
			return nil, err
		}
	}
	db, err := sql.Open("duckdb", path+"?access_mode=read_only")
	if err != nil {
		return nil, err
	}
	_, err = db.Exec(fmt.Sprintf(`SET threads = %d`, runtime.NumCPU()))
	return db, err
}

func load(path, rows string) error {
	if err := os.RemoveAll(path); err != nil {
		return err
	}
	db, err := sql.Open("duckdb", path)
	if err != nil {
		return err
	}
	if _, err := db.Exec(fmt.Sprintf(`CREATE TABLE line AS SELECT * FROM read_parquet('%s')`, strings.ReplaceAll(rows, "'", "''"))); err != nil {
		_ = db.Close()
		return err
	}
	return db.Close()
}

// count has a query answered to its last row.
func count(db *sql.DB, query string) (n int, err error) {
	rows, err := db.Query(query)
	if err != nil {
		return 0, err
	}
	defer rows.Close()
	for rows.Next() {
		n++
	}
	return n, rows.Err()
}
