// Command certs makes or renews the development certificates in a folder.
package main

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"time"

	"barrelhead.example/deploy/certs"
)

func main() {
	dir := flag.String("dir", ".barrelhead/certs", "folder for the authority and the certificates")
	names := flag.String("names", strings.Join(certs.Names(), ","), "names to issue for, separated by commas")
	flag.Parse()
	issued, err := certs.Ensure(*dir, strings.Split(*names, ","), time.Now())
	if err != nil {
		fmt.Fprintln(os.Stderr, "certs:", err)
		os.Exit(1)
	}
	if len(issued) == 0 {
		fmt.Println("certificates in", *dir, "are good for more than 30 days")
		return
	}
	fmt.Println("issued in", *dir+":", strings.Join(issued, ", "))
}
