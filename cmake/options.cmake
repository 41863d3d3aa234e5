# Compile options of our own targets: link fairlead_options (PRIVATE or INTERFACE through a room).
add_library(fairlead_options INTERFACE)
target_include_directories(fairlead_options INTERFACE ${CMAKE_SOURCE_DIR})
target_compile_options(
  fairlead_options INTERFACE -Wall -Wextra -Wconversion -Wshadow -Werror
                             # Same bytes on every build: no fused multiply-add.
                             -ffp-contract=off)
# GCC 12 reports a false -Wrestrict on "literal" + std::string.
target_compile_options(fairlead_options
                       INTERFACE $<$<COMPILE_LANG_AND_ID:CXX,GNU>:-Wno-error=restrict -Wno-restrict>)
# clang's -Wconversion includes sign conversion, GCC's does not: one rule for both. And clang sees
# GCC's std::stable_sort use a helper that C++17 deprecated.
target_compile_options(
  fairlead_options
  INTERFACE $<$<COMPILE_LANG_AND_ID:CXX,Clang>:-Wno-sign-conversion -Wno-deprecated-declarations>)

option(FAIRLEAD_TIDY "Run clang-tidy 19 on our own targets while they compile" OFF)

# A room: a static library of ours. fairlead_room(NAME SOURCES a.cpp LIBS x y)
function(fairlead_room name)
  cmake_parse_arguments(ROOM "" "" "SOURCES;LIBS;PRIVATE_LIBS" ${ARGN})
  add_library(${name} STATIC ${ROOM_SOURCES})
  target_link_libraries(${name} PUBLIC ${ROOM_LIBS} PRIVATE fairlead_options ${ROOM_PRIVATE_LIBS})
  target_include_directories(${name} PUBLIC ${CMAKE_SOURCE_DIR})
  if(FAIRLEAD_TIDY)
    set_target_properties(${name} PROPERTIES CXX_CLANG_TIDY "clang-tidy-19")
  endif()
endfunction()
