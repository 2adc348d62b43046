// Site makes the docs into a static site: the same Markdown, a search that needs no network, the look of the station.
//
//	go run ./cmd/site -out bin/site
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
)

func main() {
	from := flag.String("from", ".", "the top of the clone")
	out := flag.String("out", "bin/site", "where the site is written to; what is there is replaced")
	flag.Parse()
	made, err := build(os.DirFS(*from))
	if err == nil {
		err = made.write(*out)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "site:", err)
		os.Exit(1)
	}
	fmt.Printf("%s: %d pages\n", filepath.Join(*out, "index.html"), len(made.pages))
}
