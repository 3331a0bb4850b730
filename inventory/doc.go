// Package inventory is the domain of Stowkeeper: the nouns and the rules of keeping first-aid bags fit to go out, who
// may do what, the errors, and the contract of the store.
//
// It knows no HTTP, no SQL and no templates. Each rule is one pure function of values and an instant. The use cases
// stand in the packages below, each on the Service of its subject: they read what a rule needs from a Store, apply the
// rule, and write what follows in one unit of work.
//
// What every use case refuses is said here once: with SignedOut whoever is not signed in, where it takes an Actor; with
// Forbidden whom the access table does not let do it; with Invalid a Page whose After is no key of the list; and with
// Unavailable while the database cannot be reached; with InDoubt where it went away as a unit of work was ending. Each
// says itself what it refuses besides, without which action of the table it is Forbidden, the order and units of what
// it returns, and what it locks.
package inventory
