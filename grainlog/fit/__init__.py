"""What can be cut from an outline: straight, live-edge, round, oval and free pieces, pairs, several pieces from one slab."""
