"""One module a layout. A layout that was released is never changed: another one is added."""
