// Package inventory is the domain of Stowkeeper: the types, the rules and the
// use cases of keeping first-aid bags fit to go out.
//
// It knows no HTTP, no SQL and no templates. Each rule is one pure function of
// values and an instant; the use cases on Service read what a rule needs from
// a Store, apply the rule, and write what follows in one unit of work.
package inventory
